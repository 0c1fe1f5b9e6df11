//! What a class of boards cannot do of what another can.

use backporch_adapter::{ColourRule, Serialise};
use backporch_bench::Bench;
use backporch_raster::{Plain, QuietFrame};

use super::layers::size;

/// What a class cannot do of what the reference's can, under the same bench.
#[must_use]
pub fn lacks(reference: &Bench, bench: &Bench) -> Vec<String> {
    let mut lacks: Vec<String> = bench.notes().to_vec();
    if reference.adapter().name() == bench.adapter().name() {
        return lacks;
    }
    let (wanted, has) = (size(reference, reference.registers()), size(bench, bench.registers()));
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
