//! Whose fault a difference is: code, timing, adapter or class.

use backporch_adapter::{ColourRule, Serialise};
use backporch_bench::Bench;
use backporch_raster::{Plain, QuietFrame};

use super::{Entry, Motion, run};
use crate::signature::{FrameSignature, Nature};

/// Whose fault it is that one board does not show what was meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Blame {
    /// It shows what was meant.
    Nobody,
    /// The class of board cannot do it.
    Class,
    /// The board is faulty: a healthy one of its class shows what was meant.
    Adapter,
    /// The writes come at the wrong moment: at another one, a healthy board shows what was meant.
    Timing,
    /// Whatever the moment, a healthy board shows something else.
    Code,
}

impl Blame {
    /// The word for people and for JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Nobody => "nobody",
            Self::Class => "class",
            Self::Adapter => "adapter",
            Self::Timing => "timing",
            Self::Code => "code",
        }
    }
}

/// Blame for one board, its signatures and moments known.
pub(super) fn of(entry: &Entry, motion: Motion) -> Blame {
    if entry.signatures.iter().all(FrameSignature::is_clean) {
        return if entry.lacks.is_empty() { Blame::Nobody } else { Blame::Class };
    }
    let bench = &entry.contender.bench;
    if bench.quirks().is_empty() {
        let elsewhere = entry.moments.iter().any(|(_, clean)| *clean);
        return if elsewhere { Blame::Timing } else { Blame::Code };
    }
    let is_clean = |moment| run::healthy(bench, Motion { moment, ..motion }).iter().all(FrameSignature::is_clean);
    if is_clean(motion.moment) {
        Blame::Adapter
    } else if is_clean(run::EARLY) {
        Blame::Timing
    } else {
        Blame::Code
    }
}

/// What a class cannot do of what the reference's can, under the same bench.
pub(super) fn lacks(reference: &Bench, bench: &Bench) -> Vec<String> {
    let mut lacks: Vec<String> = bench.notes().to_vec();
    if reference.adapter().name() == bench.adapter().name() {
        return lacks;
    }
    let (wanted, has) = (run::size(reference, reference.registers()), run::size(bench, bench.registers()));
    if wanted != has {
        lacks.push(format!("shows {} x {} pixels, not {} x {}", has.0, has.1, wanted.0, wanted.1));
    }
    let (wanted, has) = (colours(reference), colours(bench));
    if has < wanted {
        lacks.push(format!("shows {has} colours, not {wanted}"));
    }
    let (wanted, has) = (step_pixels(reference), step_pixels(bench));
    if wanted != has {
        lacks.push(format!("a step of the start address is {has} pixels, not {wanted}"));
    }
    lacks
}

fn colours(bench: &Bench) -> u32 {
    let quiet = QuietFrame::new(bench.adapter(), bench.registers(), &Plain);
    match (&quiet.format().serialise, &quiet.format().colour) {
        (Serialise::Packed(bits), _) => 1 << bits,
        (_, ColourRule::Dac) => 256,
        _ => 16,
    }
}

/// Pixels by which one step of the start address moves the picture.
fn step_pixels(bench: &Bench) -> u32 {
    let quiet = QuietFrame::new(bench.adapter(), bench.registers(), &Plain);
    let line = quiet.line(0, 0, 0);
    quiet.format().address.unit * line.pixels() / line.bytes.max(1)
}

/// Why the boards together come to this.
pub(super) fn reason(entries: &[Entry], blame: Blame) -> String {
    let labels = |blame: Blame| {
        let named = entries.iter().filter(|entry| entry.blame == blame);
        named.map(|entry| entry.contender.label.as_str()).collect::<Vec<_>>().join("; ")
    };
    let blamed = labels(blame);
    match blame {
        Blame::Nobody => "every board shows what was meant".to_string(),
        Blame::Class => format!("{blamed} cannot do it"),
        Blame::Adapter => {
            let how = entries.iter().find(|entry| entry.blame == blame).map_or("", how);
            format!("a healthy board of the class shows what was meant, {blamed} does not: {how}")
        }
        Blame::Timing => format!("at another moment of the writes a healthy board shows what was meant: {blamed}"),
        Blame::Code => format!("whatever the moment, even a healthy board shows something else: {blamed}"),
    }
}

/// Whether it is the addresses that differ, or only the pixels.
fn how(entry: &Entry) -> &'static str {
    let nature = entry.signatures.iter().filter_map(|signature| signature.nature).max();
    match nature {
        Some(Nature::Addresses) => "it fetches from other addresses",
        Some(Nature::Pixels) => "it fetches from the right addresses and shows other pixels",
        Some(Nature::Colours) => "it shows the right pixels in other colours",
        Some(Nature::Displaced) => "its picture stands in another place",
        Some(Nature::NoPicture) => "it gives no stable picture",
        None => "",
    }
}
