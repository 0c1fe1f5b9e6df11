//! The signal: whether a monitor takes it.

use backporch_adapter::Aspects;
use backporch_script::{Event, Maker};
use backporch_signal::{Axis, SYNC_CAUTION, Signal};

use super::seen::SeenFrame;
use super::setting::JudgedBoard;
use super::{Hazard, HazardKind};

/// What was said of the signal before and need not be said again while it stays.
#[derive(Clone, Debug, Default)]
pub(super) struct SignalWatch {
    said: Option<String>,
    last_change: (Option<u64>, Maker),
}

/// What is wrong with a frame's signal. A mode set by firmware may take a frame or two.
fn reason(setting: &JudgedBoard, frame: &SeenFrame) -> Option<String> {
    if signal_writes(frame).any(|(_, by)| by.is_firmware()) {
        return None;
    }
    match setting.adapter.signal(&frame.registers).map(|signal| as_restarted(signal, frame)) {
        _ if frame.unstable => Some("the frame does not end".to_owned()),
        Err(error) => Some(error.to_string()),
        Ok(_) if frame.uneven => Some("scan lines of one frame differ in length".to_owned()),
        Ok(signal) => match &setting.around.monitor {
            Some(monitor) => {
                let reasons = monitor.judge(&signal).reasons();
                (!reasons.is_empty()).then(|| format!("{}: {}", monitor.title, reasons.join("; ")))
            }
            None => (!setting.is_like_a_mode(&signal)).then(|| {
                format!(
                    "{:.2} kHz and {:.2} Hz are those of no mode of the class",
                    signal.line_rate_hz() / 1e3,
                    signal.frame_rate_hz()
                )
            }),
        },
    }
}

/// The signal of a frame in which the controller was restarted on the way: it lasts as many lines as there were, and what
/// the registers do not tell of was shown before.
fn as_restarted(signal: Signal, frame: &SeenFrame) -> Signal {
    let (vertical, lines) = (signal.vertical, frame.lines.len() as u32);
    let more = lines.saturating_sub(vertical.total());
    if more == 0 || signal_writes(frame).next().is_none() {
        return signal;
    }
    let (active, sync) = (vertical.active() + more, vertical.sync());
    let whole = Axis::new(active, active + vertical.front_porch(), sync, lines);
    whole.map_or(signal, |vertical| Signal { vertical, ..signal })
}

/// Writes that changed the counters, the dot clock or the polarity of sync: their dots and who made them.
pub(super) fn signal_writes(frame: &SeenFrame) -> impl Iterator<Item = (u64, Maker)> {
    frame.events.iter().filter_map(|event| match event {
        Event::Port(access) if access.changes.intersects(Aspects::TIMING | Aspects::SIGNAL) => {
            Some((access.at.dot, access.by))
        }
        _ => None,
    })
}

impl SignalWatch {
    /// Judges frame `judged`: what is wrong in it and in those that follow. A frame in which the registers are on their
    /// way from one mode to another is not judged by itself.
    pub fn judge(&mut self, setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Option<Hazard> {
        let frame = frames[judged];
        let changes = signal_writes(frame).filter(|(_, by)| !by.is_firmware());
        if let Some((dot, by)) = changes.last() {
            self.last_change = (Some(dot), by);
        }
        let followed = frames[judged + 1..].iter().all(|next| reason(setting, next).is_some());
        let is_alone = frames.len() == judged + 1 && self.said.is_none() && frames.len() > 1;
        let reason = reason(setting, frame).filter(|_| followed && !is_alone);
        let known = std::mem::replace(&mut self.said, reason.clone());
        let reason = reason.filter(|reason| known.as_ref() != Some(reason))?;
        let (made, by) = self.last_change;
        Some(Hazard {
            kind: HazardKind::Sync,
            frame: frame.number,
            line: 0,
            dot: 0,
            made,
            by,
            what: format!("the monitor will not take the signal: {reason}"),
            cure: format!("keep totals and sync at the mode's values. {SYNC_CAUTION}"),
        })
    }
}
