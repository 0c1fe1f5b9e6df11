//! Warnings: what a family says that can never come about.

use crate::family::Family;
use crate::language::Action;
use crate::quirk::{ClosedEffect, Quirk};
use crate::satisfiability::{Likelihood, Search};
use crate::stage::{FetchAction, PixelAction, PortAction};

/// Members looked at, spread evenly over the family.
const MOST_MEMBERS: u64 = 64;

/// What may be wrong with one effect of one member.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Flaw {
    NeverHolds,
    NoOp,
    NeverBelow,
    NeverAbove,
    Hidden,
}

impl Flaw {
    const ALL: [Self; 5] = [Self::NeverHolds, Self::NoOp, Self::NeverBelow, Self::NeverAbove, Self::Hidden];

    fn words(self) -> &'static str {
        match self {
            Self::NeverHolds => "its condition can never hold",
            Self::NoOp => "it changes nothing",
            Self::NeverBelow => "its first action never acts, the threshold being always met",
            Self::NeverAbove => "its threshold is never met",
            Self::Hidden => "it never shows, a later effect hiding all it does",
        }
    }
}

impl Family {
    /// Conditions that can never hold and effects that never show, one
    /// sentence each. Of a large family only some members are looked at.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        let mut search = Search::default();
        let looked_at = self.count().min(MOST_MEMBERS);
        let spread = (0..looked_at).filter_map(|at| self.member(at * self.count() / looked_at));
        let members: Vec<(Quirk, Vec<Vec<Flaw>>)> =
            spread.map(|quirk| (quirk.clone(), flaws(&quirk, &mut search))).collect();
        let effects = 0..self.form().effects.len();
        let all = effects.flat_map(|effect| Flaw::ALL.map(|flaw| (effect, flaw)));
        all.filter_map(|(effect, flaw)| sentence(&members, effect, flaw)).collect()
    }
}

fn sentence(members: &[(Quirk, Vec<Vec<Flaw>>)], effect: usize, flaw: Flaw) -> Option<String> {
    let flawed: Vec<&Quirk> =
        members.iter().filter(|(_, flaws)| flaws[effect].contains(&flaw)).map(|(quirk, _)| quirk).collect();
    let whose = match flawed.first() {
        None => return None,
        Some(_) if flawed.len() == members.len() => String::new(),
        Some(first) => format!(" with some members, such as {first}"),
    };
    Some(format!("effect {effect}{whose}: {}", flaw.words()))
}

/// The flaws of each effect.
fn flaws(quirk: &Quirk, search: &mut Search) -> Vec<Vec<Flaw>> {
    let effects: Vec<ClosedEffect> = quirk.effects().collect();
    let of_one = |(position, effect): (usize, &ClosedEffect)| {
        let mut flaws = Vec::new();
        if search.likelihood(&effect.when) == Likelihood::Never {
            flaws.push(Flaw::NeverHolds);
        }
        if effect.does.is_no_op() && effect.threshold.as_ref().is_none_or(|threshold| threshold.does.is_no_op()) {
            flaws.push(Flaw::NoOp);
        }
        if let Some(threshold) = &effect.threshold {
            let (least, greatest) = threshold.of.range();
            let from = i64::from(threshold.from);
            flaws.extend((from <= least).then_some(Flaw::NeverBelow));
            flaws.extend((from > greatest).then_some(Flaw::NeverAbove));
        }
        if effects[position + 1..].iter().any(|later| hides(later, effect, search)) {
            flaws.push(Flaw::Hidden);
        }
        flaws
    };
    effects.iter().enumerate().map(of_one).collect()
}

/// Whether nothing an effect does is seen behind a later one.
fn hides(later: &ClosedEffect, effect: &ClosedEffect, search: &mut Search) -> bool {
    let covers = matches!(
        (&later.does, &effect.does),
        (Action::Fetch(FetchAction::Value { .. }), Action::Fetch(_))
            | (Action::Pixel(PixelAction::Value { .. }), Action::Pixel(_) | Action::Fetch(_))
            | (Action::Port(PortAction::Ignored), Action::Port(_))
    );
    covers && later.threshold.is_none() && search.likelihood(&later.when) == Likelihood::Always
}
