//! What registers read back as.

use backporch_adapter::{Adapter, BeamSignals, Guard, Registers};

/// Bits of the VGA class that read back as they were written: index port, data port, and a mask for each index from 0 on (VGA
/// register documentation; the attribute controller is read at 3C1h, behind an index at 3C0h).
const VGA: &[(u16, u16, &[u8])] = &[
    (
        0x3D4,
        0x3D5,
        &[
            0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x7F, 0xFF, 0x3F, 0x7F, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF,
            0xFF, 0xFF, 0x7F, 0xFF, 0xFF, 0xEF, 0xFF,
        ],
    ),
    (0x3C4, 0x3C5, &[0x03, 0x3D, 0x0F, 0x3F, 0x0E]),
    (0x3CE, 0x3CF, &[0x0F, 0x0F, 0x0F, 0x1F, 0x03, 0x7B, 0x0F, 0x0F, 0xFF]),
];

/// Palette registers, then mode control, overscan, plane enable, panning and colour select.
const ATTRIBUTES: [u8; 21] = [
    0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0x3F, 0xEF, 0xFF, 0x3F,
    0x0F, 0x0F,
];

struct Ports {
    adapter: std::sync::Arc<Adapter>,
    registers: Registers,
}

impl Ports {
    fn new(class: &str) -> Self {
        let adapter = Adapter::built_in(class).unwrap();
        let registers = adapter.start_up(adapter.default_mode());
        Self { adapter, registers }
    }

    fn write(&mut self, port: u16, value: u8) {
        self.adapter.write_port(&mut self.registers, port, value, Guard::AsRegister);
    }

    fn read(&mut self, port: u16) -> u8 {
        self.adapter.read_port(&mut self.registers, port, &BeamSignals::default())
    }
}

/// Bit 0 of the miscellaneous output register moves controller and status, and nothing else (VGA register documentation).
#[test]
fn one_bit_moves_the_ports_of_controller_and_status() {
    for class in ["ega", "vga"] {
        let mut board = Ports::new(class);
        let role = |board: &Ports, port| board.adapter.port_role(&board.registers, port);
        let usual = [0x3D4, 0x3D5, 0x3DA].map(|port| role(&board, port));
        assert!(usual.iter().all(Option::is_some) && role(&board, 0x3B4).is_none(), "{class}");
        let misc = if class == "vga" { board.read(0x3CC) } else { 0xA7 };
        board.write(0x3C2, misc & !1);
        assert_eq!([0x3B4, 0x3B5, 0x3BA].map(|port| role(&board, port)), usual, "{class}");
        assert!([0x3D4, 0x3D5, 0x3DA].iter().all(|port| role(&board, *port).is_none()), "{class}");
        assert_eq!(role(&board, 0x3C4), role(&Ports::new(class), 0x3C4));
        assert_eq!(board.read(0x3D4), 0xFF, "an empty bus");
        board.write(0x3C2, misc | 1);
        assert_eq!([0x3D4, 0x3D5, 0x3DA].map(|port| role(&board, port)), usual, "{class}");
    }
}

#[test]
fn registers_of_the_vga_class_read_back_bit_by_bit() {
    let mut board = Ports::new("vga");
    for &(index_port, data_port, masks) in VGA {
        // Bit 7 of 11h protects registers 0 to 7.
        board.write(0x3D4, 0x11);
        board.write(0x3D5, 0);
        for (index, mask) in (0..).zip(masks) {
            for value in [0xFF, 0x55, 0xAA, 0x00] {
                let is_lock = index_port == 0x3D4 && index == 0x11;
                let value = if is_lock { value & 0x7F } else { value };
                board.write(index_port, index);
                board.write(data_port, value);
                assert_eq!(board.read(data_port), value & mask, "{data_port:X}h, {index:02X}h");
            }
        }
    }
    for (index, mask) in (0..).zip(ATTRIBUTES) {
        for value in [0xFF, 0x55, 0xAA, 0x00] {
            board.read(0x3DA);
            board.write(0x3C0, index);
            board.write(0x3C0, value);
            board.read(0x3DA);
            board.write(0x3C0, index);
            assert_eq!(board.read(0x3C1), value & mask, "{index:02X}h");
        }
    }
    for value in [0xFF, 0x55, 0xAA, 0x63] {
        board.write(0x3C2, value);
        assert_eq!(board.read(0x3CC), value & 0xEF, "miscellaneous output");
    }
}

/// Of a 6845 the cursor address is written and read, the light pen read, everything else only written (MC6845 CRT Controller
/// data sheet); the EGA reads the start address too (Technical Reference, enhanced graphics adapter). What nothing drives
/// reads as ones (common practice).
#[test]
fn what_cannot_be_read_leaves_the_bus_open() {
    for (class, index_port, readable) in
        [("colour-graphics", 0x3D4, 0x0E..=0x11), ("monochrome", 0x3B4, 0x0E..=0x11), ("ega", 0x3D4, 0x0C..=0x11)]
    {
        let mut board = Ports::new(class);
        for index in (0..0x18).filter(|index| !(0x10..=0x11).contains(index)) {
            board.write(index_port, index);
            board.write(index_port + 1, 0x15);
            let expected = if readable.contains(&index) { 0x15 } else { 0xFF };
            assert_eq!(board.read(index_port + 1), expected, "{class} {index:02X}h");
        }
    }
}
