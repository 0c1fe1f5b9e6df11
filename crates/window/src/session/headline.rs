//! The headline: how it stands with the board and with the routine, in the words of `compare`.

use backporch_analysis::Verdict;
use backporch_analysis::compare::Blame;
use backporch_drive::blame_of;
use backporch_hazards::HazardKind;

use super::Session;

/// The judgement of the frame shown: of the board, and of what drives it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Headline {
    /// The frame against the plain board's.
    pub board: Verdict,
    /// Why the board differs: nothing, its class, or this adapter.
    pub board_blame: Blame,
    /// The routine, where one drives the boards.
    pub routine: Option<RoutineVerdict>,
}

/// The judgement of a routine so far.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RoutineVerdict {
    /// Mistakes known: made so far, or, gone back, seen to come.
    pub hazards: usize,
    /// What they lie in: nothing, the timing of writes, or the code.
    pub blame: Blame,
    /// Their kinds, the most frequent first.
    pub kinds: Vec<HazardKind>,
}

/// A cause in the words of `compare`; nothing where nothing is at fault.
#[must_use]
pub fn blame_words(blame: Blame) -> &'static str {
    match blame {
        Blame::None => "",
        Blame::Class => "class, by design",
        Blame::Adapter => "adapter",
        Blame::Timing => "timing",
        Blame::Code => "code",
    }
}

impl RoutineVerdict {
    /// How many hazards, and what they lie in.
    #[must_use]
    pub fn words(&self) -> String {
        match self.hazards {
            0 => "no hazard so far".to_string(),
            1 => format!("1 hazard: {}", blame_words(self.blame)),
            count => format!("{count} hazards: {}", blame_words(self.blame)),
        }
    }

    /// As a verdict: clean, or broken.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if self.hazards == 0 { Verdict::Clean } else { Verdict::Broken }
    }
}

impl Headline {
    /// The gravest cause of all: of code and timing before the adapter's, before the class's.
    #[must_use]
    pub fn blame(&self) -> Blame {
        self.routine.as_ref().map_or(Blame::None, |routine| routine.blame).max(self.board_blame)
    }

    /// The board's verdict and its cause.
    #[must_use]
    pub fn board_words(&self) -> String {
        match self.board_blame {
            Blame::None => self.board.word().to_string(),
            blame => format!("{}: {}", self.board.word(), blame_words(blame)),
        }
    }

    /// What was meant, held against what is shown.
    #[must_use]
    pub fn meant(&self) -> &'static str {
        match self.blame() {
            Blame::None => "what is meant is shown",
            Blame::Class => "meant is what the plain board shows; every board of the class shows this",
            Blame::Adapter => "meant is what the plain board shows; a sound board of the class shows \"as built\"",
            Blame::Timing => "at another moment of the writes a plain board shows what is meant; see the routine",
            Blame::Code => "whatever the moment, even a plain board shows something else; see the routine",
        }
    }
}

impl Session {
    /// How it stands with the board and with what drives it.
    #[must_use]
    pub fn headline(&self) -> Headline {
        let board = self.inspection.damage().verdict();
        let board_blame = match (board, self.inspection.beyond_design().verdict()) {
            (Verdict::Clean, _) => Blame::None,
            (Verdict::EdgeDamaged | Verdict::Broken, Verdict::Clean) => Blame::Class,
            (Verdict::EdgeDamaged | Verdict::Broken, Verdict::EdgeDamaged | Verdict::Broken) => Blame::Adapter,
        };
        Headline { board, board_blame, routine: self.routine_verdict() }
    }

    fn routine_verdict(&self) -> Option<RoutineVerdict> {
        let driver = self.transport.boards().driver()?;
        // Gone back to the moment before a mistake, it is still known that it comes.
        let known = self.inspection.hazards().by_kind();
        let hazards = known.values().sum::<usize>().max(driver.hazards().count);
        let mut counts: Vec<(HazardKind, usize)> = known.into_iter().collect();
        counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let kinds: Vec<HazardKind> = counts.into_iter().map(|(kind, _)| kind).collect();
        let blame = kinds.iter().map(|kind| blame_of(*kind)).max().unwrap_or(Blame::None);
        Some(RoutineVerdict { hazards, blame, kinds })
    }
}
