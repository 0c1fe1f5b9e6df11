//! Pasts of benches that were left or read again: what was done on them, by names, so that it can be done again on
//! the bench as it is read next.

use std::collections::BTreeMap;
use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_bench::Bench;
use backporch_pc::{Key, MouseMovement};

use super::board_pair::BoardAction;
use super::history::Recorded;
use super::{FittedQuirks, WritePath};

/// The courses of events of benches, by the bench's name and its class of board.
#[derive(Clone, Debug, Default)]
pub(crate) struct KeptPasts(BTreeMap<(String, String), Vec<Vec<Deed>>>);

/// What was done in a frame, this many dots after it began.
#[derive(Clone, Debug)]
struct Deed {
    id: u64,
    frame: u64,
    into_frame: u64,
    what: What,
}

#[derive(Clone, Debug)]
enum What {
    Write { register: String, value: u32, path: WritePath },
    Quirks(Arc<FittedQuirks>),
    Key { key: Key, down: bool },
    Mouse(MouseMovement),
}

/// What became of the past of a bench that is read again.
#[derive(Clone, Debug, Default)]
pub(crate) struct Carried {
    /// Number of courses of events that can be gone over to.
    kept: usize,
    /// Why others cannot.
    lost: Vec<String>,
}

/// What a bench that is read now offers to a past.
pub(crate) struct Ground<'a> {
    pub bench: &'a Bench,
    /// Its quirks, as they were read.
    pub quirks: &'a FittedQuirks,
    pub runs_program: bool,
}

impl KeptPasts {
    /// Keeps the courses of events of a bench that is left, or about to be read again.
    pub fn keep(&mut self, name: &str, adapter: &Adapter, courses: &[Vec<Recorded>]) {
        let deeds = |course: &Vec<Recorded>| course.iter().map(|recorded| Deed::of(recorded, adapter)).collect();
        let courses: Vec<Vec<Deed>> = courses.iter().map(deeds).collect();
        if !courses.is_empty() {
            self.0.insert((name.to_string(), adapter.name().to_string()), courses);
        }
    }

    /// The courses of events of a bench that is read now, where they still make sense on it.
    pub fn take(&mut self, name: &str, ground: &Ground) -> (Vec<Vec<Recorded>>, Carried) {
        let key = (name.to_string(), ground.bench.adapter().name().to_string());
        let (mut courses, mut lost) = (Vec::new(), Vec::new());
        for course in self.0.remove(&key).unwrap_or_default() {
            match course.into_iter().map(|deed| deed.on(ground)).collect() {
                Ok(course) => courses.push(course),
                Err(why) => lost.push(why),
            }
        }
        let carried = Carried { kept: courses.len(), lost };
        (courses, carried)
    }
}

impl Carried {
    /// In words, after what has happened to the bench; nothing where nothing was done.
    pub fn words(&self) -> String {
        let kept = match self.kept {
            0 => "",
            1 => "; what was done can be done again",
            _ => "; what was done can be gone over to",
        };
        let lost = match self.lost.as_slice() {
            [] => String::new(),
            [why] => format!("; a course of events is lost: {why}"),
            [why, ..] => format!("; {} courses of events are lost: {why}", self.lost.len()),
        };
        format!("{kept}{lost}")
    }
}

impl Deed {
    fn of(recorded: &Recorded, adapter: &Adapter) -> Self {
        let register = |field| adapter.field_info(field).name.clone();
        let what = match &recorded.action {
            BoardAction::WritePorts { field, value } => {
                What::Write { register: register(*field), value: *value, path: WritePath::Ports }
            }
            BoardAction::WriteDirect { field, value } => {
                What::Write { register: register(*field), value: *value, path: WritePath::Direct }
            }
            BoardAction::FitQuirks { fitted, .. } => What::Quirks(Arc::clone(fitted)),
            BoardAction::Key { key, down } => What::Key { key: *key, down: *down },
            BoardAction::Mouse(movement) => What::Mouse(*movement),
        };
        Self { id: recorded.id, frame: recorded.frame, into_frame: recorded.into_frame, what }
    }

    /// The same on a bench that is read now, or why it makes no sense there.
    fn on(self, ground: &Ground) -> Result<Recorded, String> {
        let adapter = ground.bench.adapter();
        let action = match self.what {
            What::Write { register, value, path } => {
                let field = adapter.field(&register).ok_or_else(|| format!("there is no register {register}"))?;
                let max = adapter.field_info(field).max();
                if value > max {
                    return Err(format!("{register} {value} is beyond {max}"));
                }
                match path {
                    WritePath::Ports => BoardAction::WritePorts { field, value },
                    WritePath::Direct => BoardAction::WriteDirect { field, value },
                }
            }
            What::Quirks(fitted) => {
                let fitted = fitted.as_read_in(ground.quirks);
                let on = fitted.on().map(|fitted| fitted.quirk().clone()).collect();
                BoardAction::FitQuirks { stack: ground.bench.with_quirks(on).stack(), fitted: Arc::new(fitted) }
            }
            What::Mouse(_) if !ground.runs_program => return Err("no program has its mouse".to_string()),
            What::Mouse(movement) => BoardAction::Mouse(movement),
            What::Key { .. } if !ground.runs_program => return Err("no program hears its keys".to_string()),
            What::Key { key, down } => BoardAction::Key { key, down },
        };
        Ok(Recorded::unplaced(self.id, self.frame, self.into_frame, action))
    }
}
