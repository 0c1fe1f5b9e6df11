//! The tube: where on a screen of fixed size a monitor would draw the active area.
//!
//! The tube is set up so that the start-up picture of the mode fills it (common
//! practice), and the beam crosses it at the speed of the line and frame rates: a
//! share of the line's time is a share of the way (assumed). So a picture of fewer
//! characters is narrower, and one whose sync comes earlier stands further right.

use backporch_signal::{Axis, Signal};

use super::Session;

/// The active area on the tube, in widths and heights of the tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TubePlace {
    /// From the tube's left edge to the picture's.
    pub x: f32,
    /// From the tube's top edge to the picture's.
    pub y: f32,
    /// Width of the picture.
    pub width: f32,
    /// Height of the picture.
    pub height: f32,
}

impl TubePlace {
    /// A picture that fills the tube.
    pub const WHOLE: Self = Self { x: 0.0, y: 0.0, width: 1.0, height: 1.0 };

    fn of(start_up: &Signal, signal: &Signal) -> Self {
        let (x, width) = along(&start_up.horizontal, &signal.horizontal);
        let (y, height) = along(&start_up.vertical, &signal.vertical);
        Self { x, y, width, height }
    }
}

/// First and length of the active part of an axis, in lengths of that of the start-up picture.
fn along(start_up: &Axis, axis: &Axis) -> (f32, f32) {
    let share = |part: u32, of: &Axis| f64::from(part) / f64::from(of.total().max(1));
    let begins = |axis: &Axis| share(axis.sync() + axis.back_porch(), axis);
    let unit = share(start_up.active().max(1), start_up);
    let (from, length) = ((begins(axis) - begins(start_up)) / unit, share(axis.active(), axis) / unit);
    // However odd the signal, something is seen of it.
    (from.clamp(-1.0, 1.0) as f32, length.clamp(0.05, 3.0) as f32)
}

impl Session {
    /// Where a monitor would draw the active area under the registers as they are; where there is no
    /// signal to lock to, all over its tube.
    #[must_use]
    pub fn tube_place(&self) -> TubePlace {
        let adapter = self.setup.bench.adapter();
        let start_up = adapter.signal(&adapter.start_up(self.setup.bench.mode()));
        match (start_up, adapter.signal(self.transport.faulty_registers())) {
            (Ok(start_up), Ok(signal)) => TubePlace::of(&start_up, &signal),
            _ => TubePlace::WHOLE,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_narrower_picture_is_narrower_and_an_earlier_sync_moves_it_right() {
        // 640 of 800 dots, sync of 96 from dot 656 (VGA register documentation).
        let usual = Axis::new(640, 656, 96, 800).unwrap();
        assert_eq!(along(&usual, &usual), (0.0, 1.0));
        let narrow = Axis::new(512, 656, 96, 800).unwrap();
        assert_eq!(along(&usual, &narrow), (0.0, 0.8));
        // 64 dots earlier: 64 of 640 further right.
        let earlier = Axis::new(512, 592, 96, 800).unwrap();
        let (from, width) = along(&usual, &earlier);
        assert!((from - 0.1).abs() < 1e-6 && (width - 0.8).abs() < 1e-6, "{from} {width}");
    }
}
