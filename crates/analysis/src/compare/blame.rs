//! Whose fault a difference is: code, timing, adapter or class.

use backporch_quirk::DesignQuirk;

use super::layers::InMotion;
use crate::signature::{FrameSignature, Nature};

/// Whose fault it is that one board does not show what was meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Blame {
    /// It shows what was meant.
    None,
    /// Every board of the class does so by design, or the class cannot do it.
    Class,
    /// The board is faulty: one as its class is built does something else.
    Adapter,
    /// The writes come at the wrong moment: at another one, a plain board shows what was meant.
    Timing,
    /// Whatever the moment, even a plain board shows something else.
    Code,
}

impl Blame {
    /// The word for people and for JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Class => "class",
            Self::Adapter => "adapter",
            Self::Timing => "timing",
            Self::Code => "code",
        }
    }
}

/// Something that every board of a class does by design.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClassBehaviour {
    /// Its name in the profile.
    pub name: String,
    /// What it does, in a sentence.
    pub says: String,
    /// Where that is known from.
    pub source: String,
}

impl From<&DesignQuirk> for ClassBehaviour {
    fn from(behaviour: &DesignQuirk) -> Self {
        let DesignQuirk { name, says, basis, .. } = behaviour;
        Self { name: name.clone(), says: says.clone(), source: basis.to_string() }
    }
}

/// Where the fault of one board lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct BoardBlame {
    pub blame: Blame,
    /// What its class does by design that the frames show.
    pub class: Vec<ClassBehaviour>,
    /// What is wrong beyond that.
    pub beyond: Option<Nature>,
}

impl BoardBlame {
    fn plain(blame: Blame) -> Self {
        Self { blame, class: Vec::new(), beyond: None }
    }

    /// The judgement of a board whose frames have been held against what was meant.
    pub fn of(run: InMotion<'_>, shown: &[FrameSignature], class_lacks: bool) -> Self {
        if shown.iter().all(FrameSignature::is_clean) {
            return Self::plain(if class_lacks { Blame::Class } else { Blame::None });
        }
        if !run.plain_is_as_meant() {
            let elsewhere = |motion| InMotion { motion, ..run }.plain_is_as_meant();
            let is_timing = run.motion.at_other_moments().any(elsewhere);
            return Self::plain(if is_timing { Blame::Timing } else { Blame::Code });
        }
        let class: Vec<ClassBehaviour> = run.behaviours_that_show().into_iter().map(Into::into).collect();
        let has_faults = !run.bench.quirks().is_empty();
        let beyond = if has_faults { run.beyond_design().filter_map(|frame| frame.nature).max() } else { None };
        let blame = if beyond.is_some() { Blame::Adapter } else { Blame::Class };
        Self { blame, class, beyond }
    }
}
