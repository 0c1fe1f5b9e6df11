//! The answer of a diagnosis: suspects in order, and what follows.

use std::collections::BTreeMap;

use backporch_analysis::compare::ClassBehaviour;
use backporch_evidence::Note;

use crate::cause::Cause;
use crate::check::ModelCheck;

/// One cause and how well it fits.
#[derive(Clone, Debug, PartialEq)]
pub struct RankedCause {
    /// The cause.
    pub cause: Cause,
    /// Its probability, 0 to 1.
    pub probability: f64,
    /// Sightings it explains.
    pub explains: usize,
    /// Sightings it contradicts.
    pub contradicts: usize,
    /// Equal for causes that leave the same impression in every frame looked at.
    pub by_eye: Option<u64>,
    /// Equal for causes that, besides, fit every sighting alike: no sighting distinguishes them.
    pub evidence_class: Option<u64>,
}

/// A family, or one of the causes without a family, and how likely it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// Its name.
    pub name: String,
    /// What is wrong, in a few words.
    pub title: String,
    /// The most likely member's parameters.
    pub parameters: BTreeMap<String, i64>,
    /// Probability of the whole family, 0 to 1.
    pub probability: f64,
    /// Its most likely member.
    pub best: RankedCause,
}

/// What follows from the sightings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conclusion {
    /// Nothing informative was seen.
    NothingSeen,
    /// No suspect is as likely as all others together.
    CannotTell,
    /// Every board of the class does so by design, and nothing is wrong with this one.
    ByDesign,
    /// The board is healthy, as far as was looked.
    Healthy,
    /// The routine is to blame.
    Routine,
    /// None of the families fits.
    NoneOfThese,
    /// One family is more likely than all else together.
    Fault,
    /// A few that predict the same under every setting looked at are, together.
    OneOfGroup,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Diagnosis {
    /// Families and other causes, the most likely first.
    pub suspects: Vec<Suspect>,
    /// Members, the most likely first; of many only the likeliest are kept.
    pub members: Vec<RankedCause>,
    /// Names of members that no sighting so far can tell apart, the likeliest group first.
    pub indistinguishable: Vec<Vec<String>>,
    /// What follows.
    pub conclusion: Conclusion,
    /// Whether the best suspects could have led to what was seen.
    pub check: ModelCheck,
    /// What the class does by design.
    pub design: Vec<ClassBehaviour>,
    /// What is odd about the sightings.
    pub notes: Vec<Note>,
    /// Frames predicted.
    pub predictions: u64,
}

impl Diagnosis {
    /// What follows, in a sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let first = self.suspects.first();
        let name = first.map_or("", |first| first.name.as_str());
        let percent = first.map_or(0.0, |first| first.probability * 100.0);
        match self.conclusion {
            Conclusion::NothingSeen => "cannot tell: nothing was seen that counts".to_string(),
            Conclusion::CannotTell => {
                format!("cannot tell: the likeliest, {name}, has {percent:.0} %; a probe below will help")
            }
            Conclusion::ByDesign => {
                let does = |ClassBehaviour { name, source, .. }: &ClassBehaviour| format!("{name} ({source})");
                let behaviours: Vec<String> = self.design.iter().map(does).collect();
                let behaviours = behaviours.join(", ");
                format!("by design of the class, not a fault of this board: {behaviours} ({percent:.1} %)")
            }
            Conclusion::Healthy => format!("the board is healthy, as far as was looked ({percent:.1} %)"),
            Conclusion::Routine => format!("the routine, not the board ({percent:.1} %)"),
            Conclusion::NoneOfThese => {
                let best = self.check.suspects.first().filter(|_| self.check.fails());
                best.map_or_else(
                    || format!("a fault that none of the families describes ({percent:.1} %)"),
                    |best| format!("no known fault explains all that was seen; {}", best.doubt()),
                )
            }
            Conclusion::Fault => format!("{name} ({percent:.1} %)"),
            Conclusion::OneOfGroup => "one of a group that no sighting so far can tell apart".to_string(),
        }
    }
}
