//! When the start address is loaded: a write is in time until the last load,
//! and torn only if its two bytes stand on either side of it.

use backporch_raster::stepper::Stepper;
use backporch_raster::{Board, Drive, Frame};
use proptest::prelude::*;

use super::{adapter, layers, registers};

const OLD: u16 = 0x1234;
const NEW: u16 = 0x0AB5;

/// Frames 0 to 2 of a board that gets the two bytes of a new start address at two dots.
fn frames(driver: &mut dyn Drive, upper_first: bool, dots: [u64; 2]) -> Vec<Frame> {
    let [high, low] = NEW.to_be_bytes();
    let bytes = if upper_first { [(0x0C, high), (0x0D, low)] } else { [(0x0D, low), (0x0C, high)] };
    let mut frames = Vec::new();
    for (dot, (index, byte)) in dots.into_iter().zip(bytes) {
        driver.run_to(dot);
        frames.extend(driver.take_frame());
        driver.write_port(0x3D4, index);
        driver.write_port(0x3D5, byte);
    }
    while frames.len() < 3 {
        frames.push(driver.run_frame());
    }
    frames
}

/// Start address a frame shows.
fn start(frame: &Frame) -> u32 {
    frame.picture_lines().next().unwrap().fetch.unwrap().start
}

/// The registers with sync at a place of the line.
fn at(sync: u8) -> backporch_adapter::Registers {
    let [high, low] = OLD.to_be_bytes();
    registers(&[(0x02, sync), (0x0C, high), (0x0D, low)])
}

/// The load stands 800 dots before the first line shown, 36 lines after vertical sync begins.
#[test]
fn the_last_load_stands_800_dots_before_the_picture() {
    let timing = adapter().timing(&at(0x2A));
    let load = timing.take_over();
    assert_eq!((load.line * 800 + load.char * 16, load.line - timing.sync_line()), (449 * 800 - 800, 36));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Any two dots of a frame's last four lines, sync at any place that keeps it on the line.
    #[test]
    fn a_write_is_torn_only_astride_the_last_load(
        sync in 40u8..=43, first in 445u64 * 800..449 * 800, gap in prop_oneof![0u64..64, 0u64..2000], upper_first: bool,
    ) {
        let second = (first + gap).min(449 * 800 - 1);
        let (adapter, tap) = (adapter(), layers().by_design());
        let mut board = Board::new(adapter.clone(), at(sync), tap.clone());
        let mut stepper = Stepper::new(adapter, at(sync), tap);
        let shown = frames(&mut board, upper_first, [first, second]);
        prop_assert!(shown == frames(&mut stepper, upper_first, [first, second]), "stepper and span path differ");

        // 112 dots after horizontal sync of the line before the last; a write
        // takes effect at the first character clock at or after its dot.
        let load = 447 * 800 + (u64::from(sync) + 1) * 16 + 112;
        let in_time = |dot: u64| dot.next_multiple_of(16) < load;
        let new = |upper: bool| in_time(if upper == upper_first { first } else { second });
        let byte = |upper: bool| if new(upper) { NEW } else { OLD };
        let wanted = byte(true) & 0xFF00 | byte(false) & 0x00FF;
        let starts: Vec<u32> = shown.iter().map(start).collect();
        prop_assert_eq!(starts, [OLD.into(), u32::from(wanted), NEW.into()]);
    }
}
