//! Frame rates as a program measures them: by the status port and timer 0, in every mode of every board.

mod common;

use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter, PortRole};
use backporch_pc::{CRYSTAL_HZ, Machine, Model, Stop};
use backporch_raster::Board;
use common::{has_assembler, run, setup, source};

/// Frames the program lets pass.
const FRAMES: u32 = 100;

/// Waits for `FRAMES` starts of vertical sync and leaves the counts of timer 0 between the first and the last at 0:600h.
fn measuring(port: u16, mask: u8, in_sync: u8) -> String {
    format!(
        "cli
         xor ax, ax
         mov es, ax
         mov al, 34h
         out 43h, al
         mov al, 0
         out 40h, al
         out 40h, al
         mov dx, {port}
         call edge
         mov bp, bx
         xor si, si
         xor di, di
         mov cx, {FRAMES}
 next:   call edge
         sub bp, bx
         add si, bp
         adc di, 0
         mov bp, bx
         loop next
         mov [es:600h], si
         mov [es:602h], di
         mov ax, 4C00h
         int 21h
 edge:   in al, dx
         and al, {mask}
         cmp al, {in_sync}
         je edge
 wait_:  in al, dx
         and al, {mask}
         cmp al, {in_sync}
         jne wait_
         mov al, 0
         out 43h, al
         in al, 40h
         mov bl, al
         in al, 40h
         mov bh, al
         ret"
    )
}

/// The timer counts 105/88 MHz (a third of a third of a quarter of the crystal, common practice); a frame is at most a few
/// hundredths of a second, less than the timer's period, so that differences of 16 bits are whole frames.
#[test]
fn the_timer_measures_the_rates_that_signal_states() {
    if !has_assembler() {
        return;
    }
    let vga = Adapter::built_in("vga").unwrap();
    for name in ADAPTERS.names() {
        let adapter = Adapter::built_in(name).unwrap();
        // Its other cards have its clocks.
        if adapter.is_another_card_of(&vga) {
            continue;
        }
        let port = adapter.port_of(PortRole::Status).unwrap();
        let (in_sync, out_of_sync) = (adapter.status(true, false, true), adapter.status(true, false, false));
        let mask = in_sync ^ out_of_sync;
        for mode in &adapter.profile().modes {
            let registers = adapter.start_up(mode);
            let stated = adapter.signal(&registers).unwrap().frame_rate_hz();
            let board = Board::plain(Arc::clone(&adapter), registers);
            let image = source(&measuring(port, mask, in_sync & mask));
            let mut machine = Machine::new(board, &image, &mode.name, setup(Model::P8086)).unwrap();
            machine.set_deadline(5_000_000_000);
            let (_, stop) = run(&mut machine);
            assert!(matches!(stop, Stop::Exit(0)), "{name} {}: {stop:?}", mode.name);
            let bytes = machine.hardware().memory()[0x600..0x604].try_into().unwrap();
            let counts = f64::from(u32::from_le_bytes(bytes)) / f64::from(FRAMES);
            let measured = CRYSTAL_HZ as f64 / 12.0 / counts;
            let error = (measured / stated - 1.0) * 100.0;
            assert!(error.abs() <= 0.01, "{name} {}: {measured:.4} Hz, stated {stated:.4}, {error:.4} %", mode.name);
        }
    }
}
