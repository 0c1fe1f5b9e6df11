//! What a frame's registers, window, signal and passes tell.

use std::collections::BTreeMap;

use backporch_script::{At, Event, Maker, Moment, Passed, PortAccess};

use super::flip_flop::FlipFlopWatch;
use super::mid_picture::field_of;
use super::seen::SeenFrame;
use super::setting::JudgedBoard;
use super::{Hazard, HazardKind};

/// Frames a wait may take before it counts as stuck.
const LONGEST_WAIT: u64 = 3;

/// What was said before and need not be said again while it stays.
#[derive(Clone, Debug, Default)]
pub(super) struct StateWatch {
    layout: bool,
    flip_flop: FlipFlopWatch,
    last_pass: Option<Passed>,
}

impl StateWatch {
    /// Everything that can be distinguished from one frame.
    pub fn judge(&mut self, setting: &JudgedBoard, frame: &SeenFrame) -> Vec<Hazard> {
        let mut hazards = protected(setting, frame);
        hazards.extend(snow(frame));
        hazards.extend(self.flip_flop.judge(setting, frame));
        hazards.extend(self.against_layout(setting, frame));
        for event in &frame.events {
            if let Event::Passed(passed) = event {
                hazards.extend(self.overrun(setting, frame, passed));
            }
        }
        hazards
    }

    /// A wait that goes on and on.
    pub fn stuck(&self, moment: Moment, from: u64, last: &SeenFrame) -> Option<Hazard> {
        let frames = (last.end_dot.saturating_sub(from)) / (last.end_dot - last.first_dot).max(1);
        (frames >= LONGEST_WAIT).then(|| Hazard {
            kind: HazardKind::Stuck,
            frame: last.number,
            line: 0,
            dot: 0,
            made: None,
            by: Maker::Unnamed,
            what: format!("the wait for {moment} has not ended for {frames} frames: the status port never shows it"),
            cure:
                "check the registers that make the signal, and that the polling loop is shorter than what it waits for"
                    .to_owned(),
        })
    }

    fn against_layout(&mut self, setting: &JudgedBoard, frame: &SeenFrame) -> Option<Hazard> {
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
            by: Maker::Unnamed,
            what: format!(
                "the picture lies in memory {} bytes a row, {} of them to be shown; the board steps {} a row and shows {}",
                layout.pitch, layout.displayed, line.pitch, line.bytes
            ),
            cure: "lay the picture out again for the new width, or program displayed (and the offset register, where \
                   the board has one) for the picture"
                .to_owned(),
        })
    }

    fn overrun(&mut self, setting: &JudgedBoard, frame: &SeenFrame, passed: &Passed) -> Option<Hazard> {
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
            by: Maker::Unnamed,
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
fn protected(setting: &JudgedBoard, frame: &SeenFrame) -> Vec<Hazard> {
    let mut reported = Vec::new();
    let mut hazards = Vec::new();
    for event in &frame.events {
        let Event::Port(access) = event else { continue };
        if access.ignored && !access.by.is_firmware() && !reported.contains(&access.cell) {
            reported.push(access.cell);
            hazards.push(ignored(setting, access));
        }
    }
    hazards
}

fn ignored(setting: &JudgedBoard, access: &PortAccess) -> Hazard {
    let adapter = &setting.adapter;
    let name = access.cell.map_or("a register", |cell| field_of(setting, cell));
    let protect = adapter.protect_field().map_or("the protection", |field| adapter.field_info(field).name.as_str());
    Hazard::of_write(
        HazardKind::Protected,
        access.at.frame,
        access,
        format!("{:#04X} for {name} was not taken: the register is protected", access.value),
        format!("clear {protect} first and set it again after"),
    )
}

/// Accesses that took the fetch's place, each instruction's once a frame.
fn snow(frame: &SeenFrame) -> Vec<Hazard> {
    let mut by_maker: BTreeMap<Maker, (At, u32)> = BTreeMap::new();
    for event in &frame.events {
        let (at, by) = match event {
            Event::Memory(access) if access.snows => (access.at, access.by),
            Event::Looked(look) if look.of_memory => (look.at, look.by),
            _ => continue,
        };
        if !by.is_firmware() {
            by_maker.entry(by).or_insert((at, 0)).1 += 1;
        }
    }
    let hazard = |(by, (first, times)): (Maker, (At, u32))| Hazard {
        kind: HazardKind::Snow,
        frame: frame.number,
        line: first.line,
        dot: first.line_dot,
        made: Some(first.dot),
        by,
        what: format!(
            "{times} accesses to memory while the beam displayed: each takes the fetch's place, as on every board of \
             this class"
        ),
        cure: "touch memory only in blanking: wait for display enable to end, one access a scan line, or for retrace"
            .to_owned(),
    };
    by_maker.into_iter().map(hazard).collect()
}
