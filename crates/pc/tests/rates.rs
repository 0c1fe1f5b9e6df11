//! Frame rates as a program measures them: by the status port and timer 0, in every mode of every board.

mod common;

use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter, BeamSignals, PortRole};
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
        let signals = |vertical_sync| BeamSignals { display_enabled: true, vertical_sync, ..BeamSignals::default() };
        let start_up = adapter.start_up(adapter.default_mode());
        let in_sync = adapter.status(&start_up, &signals(true));
        let mask = in_sync ^ adapter.status(&start_up, &signals(false));
        for mode in &adapter.profile().modes {
            let registers = adapter.start_up(mode);
            let stated = adapter.signal(&registers).unwrap().frame_rate_hz();
            let port = adapter.port_of(&registers, PortRole::Status).unwrap();
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

/// Arms the interrupt of vertical retrace (request 2, vector 0Ah) and counts timer 0 between the first and the last of
/// `FRAMES` of them, at 0:600h as above; exits with 1 where a handler is not entered in retrace.
fn interrupted(end: u8) -> String {
    format!(
        "cli
         xor ax, ax
         mov es, ax
         mov word [es:28h], handler
         mov [es:2Ah], cs
         in al, 21h
         and al, 0FBh
         or al, 3
         out 21h, al
         mov al, 34h
         out 43h, al
         mov al, 0
         out 40h, al
         out 40h, al
         mov cx, {FRAMES} + 1
         xor si, si
         xor di, di
         call arm
         sti
 wait_:  hlt
         or cx, cx
         jnz wait_
         mov [es:600h], si
         mov [es:602h], di
         mov ax, 4C00h
         int 21h
 arm:    mov dx, 3D4h
         mov ax, {end} << 8 | 11h
         out dx, ax
         mov ah, {end} | 10h
         out dx, ax
         ret
 handler: mov dx, 3DAh
         in al, dx
         test al, 8
         jz bad
         mov al, 0
         out 43h, al
         in al, 40h
         mov bl, al
         in al, 40h
         mov bh, al
         cmp cx, {FRAMES} + 1
         je first
         sub bp, bx
         add si, bp
         adc di, 0
 first:  mov bp, bx
         dec cx
         call arm
         mov al, 20h
         out 20h, al
         iret
 bad:    mov ax, 4C01h
         int 21h"
    )
}

/// Technical Reference, enhanced graphics adapter: bits 4 and 5 of register 11h, request 2.
#[test]
fn the_vertical_interrupt_comes_once_a_frame() {
    if !has_assembler() {
        return;
    }
    for (name, mode, end) in [("ega", "640x350x16", 0x0B), ("vga", "640x480x16", 0x0C)] {
        let adapter = Adapter::built_in(name).unwrap();
        let registers = adapter.start_up(adapter.mode(mode).unwrap());
        let stated = adapter.signal(&registers).unwrap().frame_rate_hz();
        let board = Board::plain(Arc::clone(&adapter), registers);
        let mut machine = Machine::new(board, &source(&interrupted(end)), mode, setup(Model::P8086)).unwrap();
        machine.set_deadline(5_000_000_000);
        let (_, stop) = run(&mut machine);
        assert!(matches!(stop, Stop::Exit(0)), "{name}: {stop:?}");
        let memory = machine.hardware().memory();
        let counts = u32::from_le_bytes(memory[0x600..0x604].try_into().unwrap());
        let found = f64::from(FRAMES) * CRYSTAL_HZ as f64 / 12.0 / f64::from(counts);
        assert!((found / stated - 1.0).abs() < 1e-4, "{name}: {found} Hz measured, {stated} Hz stated");
    }
}
