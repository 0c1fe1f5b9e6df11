//! Random quirks, drawn from the tables of the language and read as files.

use backporch_input::Source;
use backporch_quirk::{DecisionPoint, Family, Limits, Quirk, actions, quantities_known};
use proptest::prelude::*;

/// Numbers from which a text is made; which are used depends on what is said.
type Draw = [u32; 3];

/// The shape of a condition; what it says depends on what is known at its place.
#[derive(Clone, Debug)]
enum Shape {
    Leaf(u32, u32, Draw),
    Not(Box<Shape>),
    All(Vec<Shape>),
    Any(Vec<Shape>),
}

fn shape() -> impl Strategy<Value = Shape> {
    let leaf = (any::<u32>(), any::<u32>(), any::<Draw>()).prop_map(|(kind, of, draw)| Shape::Leaf(kind, of, draw));
    leaf.prop_recursive(3, 8, 3, |inner| {
        prop_oneof![
            inner.clone().prop_map(|part| Shape::Not(Box::new(part))),
            prop::collection::vec(inner.clone(), 0..3).prop_map(Shape::All),
            prop::collection::vec(inner, 0..3).prop_map(Shape::Any),
        ]
    })
}

/// Small numbers mostly, so that conditions hold now and then.
fn number(limits: Limits, draw: u32) -> i64 {
    match limits {
        Limits::Between(from, to) => {
            let (from, to) = (i64::from(from), i64::from(to));
            let span = to - from + 1;
            let wild = draw.is_multiple_of(4);
            let span = if wild { span } else { span.min(40) };
            let from = if from < 0 && !wild { from.max(-20).min(to) } else { from };
            (from + i64::from(draw >> 2) % span).min(to)
        }
        Limits::PowerOfTwo(from, to) => {
            let steps = i64::from(to.trailing_zeros() - from.trailing_zeros() + 1);
            i64::from(from) << (i64::from(draw) % steps)
        }
    }
}

fn quantity(place: DecisionPoint, pick: u32, draw: u32) -> Option<String> {
    let known = quantities_known(place);
    let name = *known.get(pick as usize % known.len().max(1))?;
    let row = 2u32 << (draw % 10);
    let plain = match name {
        "Tail" => format!("Tail({row}, {})", draw % 4),
        "LineCrossings" | "Crossings" | "ToCrossing" | "SinceCrossing" => format!("{name}({row})"),
        name => name.to_owned(),
    };
    Some(match pick >> 16 & 3 {
        0 => format!("Remainder({plain}, {})", draw % 40 + 1),
        1 => format!("Quotient({plain}, {})", draw % 20 + 1),
        _ => plain,
    })
}

fn condition(shape: &Shape, place: DecisionPoint) -> String {
    let joined = |parts: &[Shape]| parts.iter().map(|part| condition(part, place)).collect::<Vec<_>>().join(", ");
    match shape {
        Shape::Not(part) => format!("Not({})", condition(part, place)),
        Shape::All(parts) => format!("All([{}])", joined(parts)),
        Shape::Any(parts) => format!("Any([{}])", joined(parts)),
        Shape::Leaf(kind, of, [a, b, c]) => {
            let on_line = matches!(place, DecisionPoint::Line | DecisionPoint::Byte | DecisionPoint::Pixel);
            let each = match place {
                DecisionPoint::Byte | DecisionPoint::Pixel => ["Frame", "Line", "Place"][*a as usize % 3],
                DecisionPoint::Line => ["Frame", "Line"][*a as usize % 2],
                DecisionPoint::Write | DecisionPoint::MemoryWrite => ["Frame", "Write"][*a as usize % 2],
                _ => "Frame",
            };
            let chance = !matches!(place, DecisionPoint::Nothing | DecisionPoint::Comparands);
            match (kind % 8, quantity(place, *of, *a)) {
                (0, _) if chance => format!("Chance(in_1000: {}, each: {each})", b % 1001),
                (1, _) if on_line => "Text".to_owned(),
                (1, _) if place == DecisionPoint::Write => format!("Register(bank: Crtc, index: {})", 8 + b % 8),
                (2, _) if place == DecisionPoint::Write => ["To(DacData)", "UpperHalf"][*b as usize % 2].to_owned(),
                (3, Some(of)) => format!("Is(of: {of}, value: {})", b % 30),
                (4, Some(of)) => format!("Bits(of: {of}, mask: {}, value: {})", b % 64, (b & c) % 64),
                (5 | 6, Some(of)) => format!("Every(of: {of}, count: {}, phase: {})", b % 9 + 1, c % 9),
                (_, Some(of)) => format!("Within(of: {of}, from: {}, to: {})", b % 50, b % 50 + c % 300),
                (_, None) => "Always".to_owned(),
            }
        }
    }
}

fn action(pick: usize, draw: Draw) -> (String, DecisionPoint) {
    let (stage, entry) = actions().nth(pick % actions().count()).unwrap();
    let values = entry.fields.iter().zip(draw.into_iter().cycle());
    let values: Vec<String> =
        values.map(|((name, limits), draw)| format!("{name}: {}", number(*limits, draw))).collect();
    let brackets = if values.is_empty() { String::new() } else { format!("({})", values.join(", ")) };
    (format!("{stage}({}{brackets})", entry.name), entry.decides_at)
}

/// What decides an effect: its condition, its action, and perhaps a threshold.
type Spec = (Shape, usize, Draw, Option<(u32, usize, Draw)>);

fn spec() -> impl Strategy<Value = Spec> {
    let threshold = prop::option::weighted(0.3, (any::<u32>(), any::<usize>(), any::<Draw>()));
    (shape(), any::<usize>(), any::<Draw>(), threshold)
}

fn effect((shape, pick, draw, threshold): &Spec) -> String {
    let (does, place) = action(*pick, *draw);
    let when = condition(shape, place);
    let threshold = threshold.as_ref().and_then(|(of, pick, draw)| {
        let (other, decides_at) = action(*pick, *draw);
        let of = quantity(place, *of, draw[0])?;
        (decides_at == place).then(|| format!(", threshold: (of: {of}, from: {}, does: {other})", draw[1] % 40))
    });
    format!("(when: {when}, does: {does}{})", threshold.unwrap_or_default())
}

fn quirk() -> impl Strategy<Value = Quirk> {
    prop::collection::vec(spec(), 1..5).prop_map(|specs| {
        let effects: Vec<String> = specs.iter().map(effect).collect();
        let text = format!(
            "(version: 1, name: \"random\", title: \"t\", cause: \"c\", looks: \"l\", standing: Conjectured, prior: 1, \
             effects: [{}])",
            effects.join(", ")
        );
        let family = Family::from_source(&Source::built_in("random", text.as_str()));
        family.unwrap_or_else(|error| panic!("{error}\n{text}")).close_default()
    })
}

/// A stack of none to a few quirks.
pub(crate) fn stack() -> impl Strategy<Value = Vec<Quirk>> {
    prop::collection::vec(quirk(), 0..5)
}
