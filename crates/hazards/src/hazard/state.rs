//! What a frame's registers, window, signal and passes tell.

use backporch_script::{At, Event, Moment, Passed, PortAccess};
use backporch_signal::SYNC_CAUTION;

use super::seen::Seen;
use super::setting::Setting;
use super::{Hazard, HazardKind};

/// Frames a wait may take before it counts as stuck.
const LONGEST_WAIT: u64 = 3;

/// What was said before and need not be said again while it stays.
#[derive(Clone, Debug, Default)]
pub(super) struct StateWatch {
    over: bool,
    layout: bool,
    signal: Option<String>,
    last_pass: Option<Passed>,
}

impl StateWatch {
    /// Everything that can be told from one frame.
    pub fn judge(&mut self, setting: &Setting, frame: &Seen) -> Vec<Hazard> {
        let mut hazards = protected(setting, frame);
        hazards.extend(snow(setting, frame));
        hazards.extend(self.runs_over(frame, setting.bytes_at_address()));
        hazards.extend(self.against_layout(setting, frame));
        hazards.extend(self.sync(setting, frame));
        for event in &frame.events {
            if let Event::Passed(passed) = event {
                hazards.extend(self.overrun(setting, frame, passed));
            }
        }
        hazards
    }

    /// A wait that goes on and on.
    pub fn stuck(&self, moment: Moment, from: u64, last: &Seen) -> Option<Hazard> {
        let frames = (last.end_dot.saturating_sub(from)) / (last.end_dot - last.first_dot).max(1);
        (frames >= LONGEST_WAIT).then(|| Hazard {
            kind: HazardKind::Stuck,
            frame: last.number,
            line: 0,
            dot: 0,
            made: None,
            what: format!("the wait for {moment:?} has not ended for {frames} frames: the status port never shows it"),
            cure:
                "check the registers that make the signal, and that the polling loop is shorter than what it waits for"
                    .to_owned(),
        })
    }

    fn runs_over(&mut self, frame: &Seen, bytes_at_address: u32) -> Option<Hazard> {
        let mut before: Option<(u32, u32)> = None;
        let mut over = None;
        for (number, line) in frame.lines.iter().enumerate() {
            let Some(line) = line.fetch else { continue };
            let end = u64::from(line.linear) + u64::from(line.bytes);
            let around = u64::from(line.mask) + 1;
            // A split screen begins at 0 again, too, but not by running over.
            let wraps = |linear: u32| line.linear < linear && u64::from(linear) + u64::from(line.pitch) >= around;
            let restarted = before.is_some_and(|(bank, linear)| bank == line.bank && wraps(linear));
            if end > around || restarted {
                over = Some((number, format!("the end of its {around} bytes and goes on at their beginning")));
                break;
            }
            let segment = |address: u64| (address / u64::from(bytes_at_address)) >> 16;
            if segment(u64::from(line.linear)) != segment(end - 1) {
                over = Some((number, "a 64 KiB segment, which a routine's 16-bit offsets cannot follow".to_owned()));
                break;
            }
            before = Some((line.bank, line.linear));
        }
        let known = std::mem::replace(&mut self.over, over.is_some());
        let (line, where_to) = over.filter(|_| !known)?;
        Some(Hazard {
            kind: HazardKind::RunsOver,
            frame: frame.number,
            line: line as u32,
            dot: 0,
            made: None,
            what: format!("the window from start address {:#06X} runs over {where_to}", frame.start.unwrap_or(0)),
            cure: "keep start address and screen inside, or let the redraw wrap at the same address as the board"
                .to_owned(),
        })
    }

    fn against_layout(&mut self, setting: &Setting, frame: &Seen) -> Option<Hazard> {
        let layout = setting.around.layout?;
        let line = frame.first_line()?;
        let differs = line.pitch != layout.pitch || line.bytes != layout.displayed;
        let known = std::mem::replace(&mut self.layout, differs);
        (differs && !known).then(|| Hazard {
            kind: HazardKind::Pitch,
            frame: frame.number,
            line: line.scan_line,
            dot: 0,
            made: None,
            what: format!(
                "the picture lies in memory {} bytes a row, {} of them to be shown; the board steps {} a row and shows {}",
                layout.pitch, layout.displayed, line.pitch, line.bytes
            ),
            cure: "lay the picture out again for the new width, or program displayed (and the offset register, where \
                   the board has one) for the picture"
                .to_owned(),
        })
    }

    fn sync(&mut self, setting: &Setting, frame: &Seen) -> Option<Hazard> {
        let reason = match setting.adapter.signal(&frame.registers) {
            _ if frame.unstable => Some("the frame does not end".to_owned()),
            Err(error) => Some(error.to_string()),
            Ok(_) if frame.uneven => Some("scan lines of one frame differ in length".to_owned()),
            Ok(signal) => setting.around.monitor.as_ref().and_then(|monitor| {
                let reasons = monitor.judge(&signal).reasons();
                (!reasons.is_empty()).then(|| format!("{}: {}", monitor.title, reasons.join("; ")))
            }),
        };
        let known = std::mem::replace(&mut self.signal, reason.clone());
        let reason = reason.filter(|reason| known.as_ref() != Some(reason))?;
        Some(Hazard {
            kind: HazardKind::Sync,
            frame: frame.number,
            line: 0,
            dot: 0,
            made: None,
            what: format!("the monitor will not take the signal: {reason}"),
            cure: format!("keep totals and sync at the mode's values. {SYNC_CAUTION}"),
        })
    }

    fn overrun(&mut self, setting: &Setting, frame: &Seen, passed: &Passed) -> Option<Hazard> {
        let last = self.last_pass.replace(*passed)?;
        let took = passed.end.frame.saturating_sub(last.end.frame);
        if took <= u64::from(passed.frames_meant) {
            return None;
        }
        let has = match &setting.around.cpu {
            Some(cpu) => format!(" of {} clocks", cpu.base().clocks_in(frame.end_dot - frame.first_dot)),
            None => String::new(),
        };
        Some(Hazard {
            kind: HazardKind::Overrun,
            frame: last.end.frame + u64::from(passed.frames_meant),
            line: passed.end.line,
            dot: passed.end.line_dot,
            made: None,
            what: format!(
                "pass {} took {took} frames{has} each, {} more than meant: {} clocks of work, {} of waiting",
                passed.pass,
                took - u64::from(passed.frames_meant),
                passed.busy_clocks,
                passed.waited_clocks
            ),
            cure: "do less in a pass, spread it over several frames, or begin it earlier in the frame".to_owned(),
        })
    }
}

/// Writes that protected registers did not take, each register once a frame.
fn protected(setting: &Setting, frame: &Seen) -> Vec<Hazard> {
    let mut told = Vec::new();
    let mut hazards = Vec::new();
    for event in &frame.events {
        let Event::Port(access) = event else { continue };
        if access.ignored && !told.contains(&access.cell) {
            told.push(access.cell);
            hazards.push(ignored(setting, access));
        }
    }
    hazards
}

fn ignored(setting: &Setting, access: &PortAccess) -> Hazard {
    let adapter = &setting.adapter;
    let holds = |field: &backporch_adapter::Field| field.bits.iter().any(|slice| slice.cell() == access.cell);
    let name = adapter.fields().find(|(_, field)| holds(field)).map_or("?", |(_, field)| field.name.as_str());
    let protect = adapter.protect_field().map_or("the protection", |field| adapter.field_info(field).name.as_str());
    Hazard {
        kind: HazardKind::Protected,
        frame: access.at.frame,
        line: access.at.line,
        dot: access.at.line_dot,
        made: Some(access.at.dot),
        what: format!("{:#04X} for {name} was not taken: the register is protected", access.value),
        cure: format!("clear {protect} first and set it again after"),
    }
}

fn snow(setting: &Setting, frame: &Seen) -> Option<Hazard> {
    let line = frame.first_line()?;
    let profile = setting.adapter.profile();
    let format = setting.adapter.format(line.format as usize);
    if !profile.snow.contains(&format.name) {
        return None;
    }
    let shown = frame.events.iter().filter_map(|event| match event {
        Event::Memory(access) if access.at.display => Some(access.at),
        _ => None,
    });
    let shown: Vec<At> = shown.collect();
    let first = shown.first()?;
    Some(Hazard {
        kind: HazardKind::Snow,
        frame: frame.number,
        line: first.line,
        dot: first.line_dot,
        made: Some(first.dot),
        what: format!(
            "{} accesses to memory while the beam displayed: each takes the fetch's place, as on every board of this class",
            shown.len()
        ),
        cure: "touch memory only in blanking: wait for display enable to end, one access a scan line, or for retrace"
            .to_owned(),
    })
}
