//! The check of a family: every name known, every value within its limits for
//! every member, every condition about something that is known where it is asked.

use backporch_input::{InputError, Source};

use crate::family_form::{FamilyEffect, FamilyForm};
use crate::language::{Action, Condition, DecisionPoint, Limits, Quantity, Value, is_name};
use crate::parameters::{Choices, MOST_VALUES};

/// A family may have this many members.
const MOST_MEMBERS: u64 = 1 << 32;
/// A family may have this many effects.
const MOST_EFFECTS: usize = 32;
/// A condition may have this many parts, so that asking it takes bounded time.
const MOST_PARTS: usize = 64;

/// Checks a family against the text it was read from.
pub(crate) fn check(source: &Source, form: &FamilyForm) -> Result<(), InputError> {
    Checker { source, form }.form()
}

struct Checker<'a> {
    source: &'a Source,
    form: &'a FamilyForm,
}

/// The steps to a value in the text.
#[derive(Clone)]
struct Path(Vec<String>);

impl Path {
    fn to(&self, step: impl ToString) -> Self {
        let mut steps = self.0.clone();
        steps.push(step.to_string());
        Self(steps)
    }
}

impl Checker<'_> {
    fn fault(&self, path: &Path, found: impl ToString, allowed: impl ToString) -> InputError {
        let steps: Vec<&str> = path.0.iter().map(String::as_str).collect();
        self.source.fault(&steps, found.to_string(), allowed.to_string())
    }

    fn form(&self) -> Result<(), InputError> {
        let Self { form, .. } = self;
        let at = Path(Vec::new());
        if !is_name(&form.name, '-') || form.name.len() > 64 {
            return Err(self.fault(
                &at.to("name"),
                &form.name,
                "small letters, digits and single hyphens, a letter first",
            ));
        }
        for (field, text) in [("title", &form.title), ("cause", &form.cause), ("looks", &form.looks)] {
            if text.trim().is_empty() {
                return Err(self.fault(&at.to(field), "an empty text", "plain words"));
            }
        }
        if !(1..=1000).contains(&form.prior) {
            return Err(self.fault(&at.to("prior"), form.prior, "1..=1000"));
        }
        if form.effects.is_empty() || form.effects.len() > MOST_EFFECTS {
            return Err(self.fault(&at.to("effects"), form.effects.len(), format!("1 to {MOST_EFFECTS} effects")));
        }
        self.parameters(&at.to("parameters"))?;
        for (position, effect) in form.effects.iter().enumerate() {
            self.effect(&at.to("effects").to(position), effect)?;
        }
        self.all_used(&at.to("parameters"))
    }

    fn parameters(&self, at: &Path) -> Result<(), InputError> {
        let mut members: u64 = 1;
        for (name, choices) in self.form.parameters.iter() {
            let at = at.to(name);
            if !is_name(name, '_') {
                return Err(self.fault(&at, format!("the name \"{name}\""), "a name in snake case"));
            }
            if !(1..=MOST_VALUES).contains(&choices.count()) {
                let allowed = format!("1 to {MOST_VALUES} values, a range from low to high in steps of 1 or more");
                return Err(self.fault(&at, format!("{} values", choices.count()), allowed));
            }
            if let Choices::Choice(values) = choices {
                let again = |(position, value): (usize, &i64)| values[..position].contains(value).then_some(position);
                if let Some(position) = values.iter().enumerate().find_map(again) {
                    return Err(self.fault(&at.to(position), values[position], "each value once"));
                }
            }
            members = members.saturating_mul(choices.count());
            if members > MOST_MEMBERS {
                return Err(self.fault(&at, "too many members", format!("a family of at most {MOST_MEMBERS} members")));
            }
        }
        Ok(())
    }

    fn effect(&self, at: &Path, effect: &FamilyEffect) -> Result<(), InputError> {
        let place = self.action(&at.to("does"), &effect.does)?;
        let mut parts = 0;
        self.condition(&at.to("when"), &effect.when, place, &mut parts)?;
        if let Some(threshold) = &effect.threshold {
            let at = at.to("threshold");
            let other = self.action(&at.to("does"), &threshold.does)?;
            self.value(&at.to("from"), &threshold.from, Limits::Between(i32::MIN, i32::MAX))?;
            for place in [place, other] {
                self.quantity(&at.to("of"), &threshold.of, place)?;
            }
            self.condition(&at.to("does"), &effect.when, other, &mut 0)?;
        }
        Ok(())
    }

    fn action(&self, at: &Path, action: &Action<Value>) -> Result<DecisionPoint, InputError> {
        for (name, value, limits) in action.fields() {
            self.value(&at.to(name), value, limits)?;
        }
        Ok(action.decides_at())
    }

    fn condition(
        &self,
        at: &Path,
        condition: &Condition<Value>,
        place: DecisionPoint,
        parts: &mut usize,
    ) -> Result<(), InputError> {
        *parts += 1;
        if *parts > MOST_PARTS {
            return Err(self.fault(at, "more parts", format!("a condition of at most {MOST_PARTS} parts")));
        }
        for (name, value, limits) in condition.fields() {
            self.value(&at.to(name), value, limits)?;
        }
        if let Some(of) = condition.quantity() {
            self.quantity(&at.to("of"), of, place)?;
        }
        match condition {
            Condition::All(all) | Condition::Any(all) => {
                let mut each = all.iter().enumerate();
                each.try_for_each(|(position, part)| self.condition(&at.to(position), part, place, parts))
            }
            Condition::Not(part) => self.condition(at, part, place, parts),
            Condition::Chance { each, .. } if !each.is_known_at(place) => {
                Err(self.fault(&at.to("each"), each.name(), unknown_chance(place)))
            }
            Condition::Text if !matches!(place, DecisionPoint::Line | DecisionPoint::Byte | DecisionPoint::Pixel) => {
                Err(self.fault(at, "Text", format!("{} does not know the mode", place.words())))
            }
            Condition::UpperHalf | Condition::Register { .. } | Condition::To(_) if place != DecisionPoint::Write => {
                Err(self.fault(at, "a condition on a port write", format!("what is known to {}", place.words())))
            }
            _ => Ok(()),
        }
    }

    fn quantity(&self, at: &Path, quantity: &Quantity<Value>, place: DecisionPoint) -> Result<(), InputError> {
        if !quantity.is_known_at(place) {
            let known = Quantity::<Value>::known_at(place);
            let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
            let allowed = format!("what is known to {}: {known}", place.words());
            return Err(self.fault(at, quantity.name(), allowed));
        }
        for (name, value, limits) in quantity.fields() {
            self.value(&at.to(name), value, limits)?;
        }
        match quantity {
            Quantity::Remainder(of, _) | Quantity::Quotient(of, _) => self.quantity(&at.to("0"), of, place),
            _ => Ok(()),
        }
    }

    fn value(&self, at: &Path, value: &Value, limits: Limits) -> Result<(), InputError> {
        let name = match value {
            Value::Number(number) if limits.allow(*number) => return Ok(()),
            Value::Number(number) => return Err(self.fault(at, number, limits)),
            Value::Parameter(name) => name,
        };
        let Some((_, choices)) = self.form.parameters.find(name) else {
            let names: Vec<&str> = self.form.parameters.iter().map(|(name, _)| name).collect();
            let allowed = if names.is_empty() {
                format!("a number ({limits}), no parameter being open")
            } else {
                format!("a number ({limits}) or a parameter ({})", names.join(", "))
            };
            return Err(self.fault(at, format!("\"{name}\""), allowed).with_nearest(name, names));
        };
        match choices.values().find(|value| !limits.allow(*value)) {
            Some(wrong) => {
                let field = at.0.last().cloned().unwrap_or_default();
                let at = Path(vec!["parameters".to_owned(), name.clone()]);
                Err(self.fault(&at, wrong, format!("{limits}, as {field} takes it")))
            }
            None => Ok(()),
        }
    }

    /// Every parameter is used, so that no two members are the same.
    fn all_used(&self, at: &Path) -> Result<(), InputError> {
        let mut used = Vec::new();
        let mut note = |value: &Value| used.push(value.clone());
        for effect in &self.form.effects {
            effect.when.map(&mut note);
            effect.does.map(&mut note);
            if let Some(threshold) = &effect.threshold {
                threshold.of.map(&mut note);
                note(&threshold.from);
                threshold.does.map(&mut note);
            }
        }
        let unused = |name: &&str| !used.contains(&Value::Parameter((*name).to_owned()));
        match self.form.parameters.iter().map(|(name, _)| name).find(unused) {
            Some(name) => Err(self.fault(&at.to(name), "a parameter no effect uses", "parameters that effects use")),
            None => Ok(()),
        }
    }
}

fn unknown_chance(place: DecisionPoint) -> String {
    use crate::language::Each;
    let all = [Each::Frame, Each::Line, Each::Place, Each::Write];
    let known: Vec<&str> = all.iter().filter(|each| each.is_known_at(place)).map(|each| each.name()).collect();
    let known = if known.is_empty() { "no chance".to_owned() } else { known.join(", ") };
    format!("{known} for {}", place.words())
}
