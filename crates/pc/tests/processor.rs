//! What the manuals say of the processor beyond single instructions: interrupts,
//! traps, repeated strings, edges of segments, code that changes itself, and
//! what sets the models apart.
//!
//! Sources: The 8086 Family User's Manual; iAPX 186 High Integration 16-Bit
//! Microprocessor, differences from the 8086; iAPX 286 Programmer's Reference,
//! real-address mode and differences from the 8086; 80386 Programmer's Reference
//! Manual, real-address mode and its exceptions.

use backporch_pc::registers::{Byte, SegmentRegister, Word, flag};
use backporch_pc::{Bus, Far, Model, Processor, StepResult};

/// A mebibyte of memory, zero but for what a test puts there.
struct Flat {
    memory: Vec<u8>,
    clocks: u64,
}

impl Bus for Flat {
    fn read(&mut self, address: u32) -> u8 {
        self.memory[address as usize]
    }

    fn write(&mut self, address: u32, value: u8) {
        self.memory[address as usize] = value;
    }

    fn fetch(&self, address: u32) -> u8 {
        self.memory[address as usize]
    }

    fn input(&mut self, _port: u16) -> u8 {
        0xFF
    }

    fn output(&mut self, _port: u16, _value: u8) {}

    fn elapse(&mut self, clocks: u32) {
        self.clocks += u64::from(clocks);
    }
}

struct Set {
    processor: Processor,
    bus: Flat,
}

/// Code at 1000:0100, a stack at 3000:0100, handlers of interrupt n at 4000:n00.
fn set(model: Model, code: &[u8]) -> Set {
    let mut bus = Flat { memory: vec![0; 1 << 20], clocks: 0 };
    bus.memory[0x10100..0x10100 + code.len()].copy_from_slice(code);
    for number in 0..256usize {
        let entry = [0, number as u8, 0x00, 0x40];
        bus.memory[number * 4..][..4].copy_from_slice(&entry);
        bus.memory[0x40000 + number * 256] = 0xCF; // iret
    }
    let mut processor = Processor::by_tables(model);
    processor.registers.go_to(Far::new(0x1000, 0x0100));
    processor.registers.set_segment(SegmentRegister::Ss, 0x3000);
    processor.registers.set_word(Word::Sp, 0x0100);
    Set { processor, bus }
}

impl Set {
    fn steps(&mut self, count: usize) -> &mut Self {
        for _ in 0..count {
            assert_eq!(self.processor.step(&mut self.bus), StepResult::Done);
        }
        self
    }

    fn at(&self) -> Far {
        self.processor.registers.next()
    }

    fn pushed(&self, depth: u16) -> u16 {
        let sp = self.processor.registers.word(Word::Sp);
        let at = Far::new(self.processor.registers.segment(SegmentRegister::Ss), sp + depth * 2).linear() as usize;
        u16::from_le_bytes([self.bus.memory[at], self.bus.memory[at + 1]])
    }
}

#[test]
fn a_failed_division_comes_back_to_itself_on_the_80286_and_past_it_on_the_8086() {
    let divide_by_zero = [0xF6, 0xF3]; // div bl
    for (model, back) in
        [(Model::P8086, 0x0102), (Model::P80186, 0x0102), (Model::P80286, 0x0100), (Model::P80386, 0x0100)]
    {
        let mut set = set(model, &divide_by_zero);
        set.steps(1);
        assert_eq!((set.at(), set.pushed(0)), (Far::new(0x4000, 0), back), "{}", model.name());
    }
}

#[test]
fn the_most_negative_quotient_is_an_error_on_the_8086_only() {
    for (model, fails) in [(Model::P8086, true), (Model::P80186, false), (Model::P80286, false), (Model::P80386, false)]
    {
        let mut set = set(model, &[0xF6, 0xFB]); // idiv bl
        set.processor.registers.set_word(Word::Ax, 0xFF80);
        set.processor.registers.set_byte(Byte::Bl, 1);
        set.steps(1);
        assert_eq!(set.at().segment == 0x4000, fails, "{}", model.name());
    }
}

#[test]
fn pushing_the_stack_pointer_differs() {
    for (model, pushed) in
        [(Model::P8088, 0x00FE), (Model::P80186, 0x00FE), (Model::P80286, 0x0100), (Model::P80386, 0x0100)]
    {
        assert_eq!(set(model, &[0x54]).steps(1).pushed(0), pushed); // push sp
    }
}

#[test]
fn shifts_count_modulo_32_from_the_80186_on() {
    for (model, result) in [(Model::P8086, 0), (Model::P80186, 2), (Model::P80286, 2), (Model::P80386, 2)] {
        let mut set = set(model, &[0xD3, 0xE0]); // shl ax, cl
        set.processor.registers.set_word(Word::Ax, 1);
        set.processor.registers.set_word(Word::Cx, 33);
        assert_eq!(set.steps(1).processor.registers.word(Word::Ax), result);
    }
}

#[test]
fn pushed_flags_tell_the_models_apart() {
    for (model, upper) in
        [(Model::P8086, 0xF000), (Model::P80186, 0xF000), (Model::P80286, 0x0000), (Model::P80386, 0x0000)]
    {
        assert_eq!(set(model, &[0x9C]).steps(1).pushed(0) & 0xF000, upper); // pushf
    }
    // mov ax, 7002h; push ax; popf; pushf: only the 80386 keeps what was put there.
    for (model, upper) in [(Model::P80286, 0x0000), (Model::P80386, 0x7000)] {
        let mut set = set(model, &[0xB8, 0x02, 0x70, 0x50, 0x9D, 0x9C]);
        assert_eq!(set.steps(4).pushed(0) & 0xF000, upper, "{}", model.name());
    }
}

#[test]
fn the_80186_has_its_forms_and_no_later_ones() {
    let mut set_186 = set(Model::P80186, &[0x6A, 0xFE]); // push -2
    assert_eq!(set_186.steps(1).pushed(0), 0xFFFE);
    for code in [[0x0F, 0x06], [0x66, 0x90], [0x64, 0x90]] {
        let mut set = set(Model::P80186, &code);
        set.steps(1);
        assert_eq!((set.at(), set.pushed(0)), (Far::new(0x4000, 0x0600), 0x0100), "{code:02X?}");
    }
}

/// Instructions of later processors, of protected mode, and a lock before what cannot be locked.
#[test]
fn what_the_80386_does_not_have_is_interrupt_6() {
    let codes: [&[u8]; 10] = [
        &[0x0F, 0xFF],
        &[0x0F, 0x0B],
        &[0x0F, 0xA2],
        &[0x0F, 0xC8],
        &[0x0F, 0xC1, 0xC0],
        &[0x0F, 0x00, 0xC0],
        &[0x63, 0xC0],
        &[0xF0, 0x90],
        &[0xF0, 0x01, 0xC0],
        &[0x0F, 0x20, 0xC8],
    ];
    for code in codes {
        let mut set = set(Model::P80386, code);
        set.steps(1);
        assert_eq!((set.at(), set.pushed(0)), (Far::new(0x4000, 0x0600), 0x0100), "{code:02X?}");
    }
}

#[test]
fn an_operand_beyond_its_segment_is_interrupt_13_or_12_on_the_80386() {
    let codes: [(&[u8], u16); 9] = [
        (&[0xA1, 0xFF, 0xFF], 13),                               // mov ax, [FFFFh]
        (&[0x66, 0xA1, 0xFD, 0xFF], 13),                         // mov eax, [FFFDh]
        (&[0x8B, 0x86, 0x7F, 0xFF], 12),                         // mov ax, [bp-81h], bp 80h
        (&[0x67, 0xA0, 0x00, 0x00, 0x01, 0x00], 13),             // mov al, [10000h]
        (&[0x67, 0x8A, 0x85, 0x00, 0x00, 0x01, 0x00], 12),       // mov al, [ebp+10000h]
        (&[0x66, 0xE9, 0x00, 0x00, 0x01, 0x00], 13),             // jmp dword 10106h
        (&[0x66, 0xEA, 0x00, 0x00, 0x01, 0x00, 0x00, 0x10], 13), // jmp dword 1000h:10000h
        (&[0x2E, 0x2E, 0x2E, 0x2E, 0x2E, 0x2E, 0x2E, 0x2E, 0x2E, 0x2E, 0xC7, 0x06, 0, 0, 1, 0], 13), // 16 bytes
        (&[0x64, 0x66, 0xA1, 0xFE, 0xFF], 13),                   // mov eax, [fs:FFFEh]
    ];
    for (code, number) in codes {
        let mut set = set(Model::P80386, code);
        set.processor.registers.set_word(Word::Bp, 0x0080);
        set.steps(1);
        assert_eq!((set.at(), set.pushed(0)), (Far::new(0x4000, number << 8), 0x0100), "{code:02X?}");
    }
    // A double word that would come round the end of the stack's segment; there is room for the interrupt.
    let mut set = set(Model::P80386, &[0x66, 0x50]);
    set.processor.registers.set_word(Word::Sp, 2);
    set.steps(1);
    assert_eq!(set.at(), Far::new(0x4000, 0x0C00));
}

/// A word at offset FFFFh ends beyond the segment (iAPX 186 High Integration 16-Bit Microprocessor).
#[test]
fn the_80186_does_not_wrap_a_word() {
    let mut set = set(Model::P80186, &[0xA1, 0xFF, 0xFF]); // mov ax, [FFFFh]
    set.processor.registers.set_segment(SegmentRegister::Ds, 0x2000);
    (set.bus.memory[0x2FFFF], set.bus.memory[0x20000], set.bus.memory[0x30000]) = (0x34, 0x12, 0x99);
    assert_eq!(set.steps(1).processor.registers.word(Word::Ax), 0x9934);
}

#[test]
fn programs_of_the_80386_see_real_mode_in_its_control_register() {
    // mov eax, -1; mov eax, cr0; smsw bx; mov cr0, eax
    let mut quiet =
        set(Model::P80386, &[0x66, 0xB8, 0xFF, 0xFF, 0xFF, 0xFF, 0x0F, 0x20, 0xC0, 0x0F, 0x01, 0xE3, 0x0F, 0x22, 0xC0]);
    quiet.steps(4);
    assert_eq!((quiet.processor.registers.double(Word::Ax) & 1, quiet.processor.registers.word(Word::Bx) & 1), (0, 0));
    let mut protecting = set(Model::P80386, &[0x40, 0x0F, 0x22, 0xC0]); // inc ax; mov cr0, eax
    protecting.steps(1);
    assert_eq!(protecting.processor.step(&mut protecting.bus), StepResult::Protected);
    // mov al, 4; lmsw ax; fninit: the status word asks for an interrupt in place of a coprocessor.
    let mut emulating = set(Model::P80386, &[0xB0, 0x04, 0x0F, 0x01, 0xF0, 0xDB, 0xE3]);
    emulating.steps(3);
    assert_eq!((emulating.at(), emulating.pushed(0)), (Far::new(0x4000, 0x0700), 0x0105));
}

#[test]
fn an_undefined_instruction_is_interrupt_6_on_the_80286() {
    for code in [[0x0F, 0xFF], [0x66, 0x90], [0x63, 0xC0], [0xF1, 0x90], [0xFF, 0xFF]] {
        let mut new = set(Model::P80286, &code);
        new.steps(1);
        assert_eq!((new.at(), new.pushed(0)), (Far::new(0x4000, 0x0600), 0x0100), "{code:02X?}");
        let mut old = set(Model::P8086, &code);
        assert_eq!(old.processor.step(&mut old.bus), StepResult::Undefined, "{code:02X?}");
    }
}

#[test]
fn an_instruction_of_more_than_ten_bytes_is_interrupt_13_on_the_80286() {
    let mut code = vec![0x26; 8];
    code.extend([0xC7, 0x06, 0x00, 0x00, 0x34, 0x12]); // mov word [es:0], 1234h
    let mut new = set(Model::P80286, &code);
    new.steps(1);
    assert_eq!(new.at(), Far::new(0x4000, 0x0D00));
    let mut old = set(Model::P8086, &code);
    old.steps(1);
    assert_eq!(old.bus.memory[..2], [0x34, 0x12]);
}

#[test]
fn a_word_at_the_end_of_a_segment_wraps_or_interrupts() {
    let code = [0xA1, 0xFF, 0xFF]; // mov ax, [FFFFh]
    let mut old = set(Model::P8086, &code);
    old.processor.registers.set_segment(SegmentRegister::Ds, 0x2000);
    (old.bus.memory[0x2FFFF], old.bus.memory[0x20000], old.bus.memory[0x30000]) = (0x34, 0x12, 0x99);
    assert_eq!(old.steps(1).processor.registers.word(Word::Ax), 0x1234);
    let mut new = set(Model::P80286, &code);
    new.steps(1);
    assert_eq!((new.at(), new.pushed(0)), (Far::new(0x4000, 0x0D00), 0x0100));
}

#[test]
fn instructions_wrap_at_the_end_of_a_segment() {
    let mut set = set(Model::P8086, &[]);
    set.bus.memory[0x1FFFF] = 0xB8; // mov ax, 1234h
    (set.bus.memory[0x10000], set.bus.memory[0x10001]) = (0x34, 0x12);
    set.processor.registers.ip = 0xFFFF;
    set.steps(1);
    assert_eq!((set.processor.registers.word(Word::Ax), set.at()), (0x1234, Far::new(0x1000, 2)));
}

#[test]
fn one_push_too_many_shuts_the_80286_down() {
    for model in [Model::P80286, Model::P80386] {
        shut_down_by_a_push(model);
    }
}

fn shut_down_by_a_push(model: Model) {
    let mut set = set(model, &[0x50]);
    set.processor.registers.set_word(Word::Sp, 1);
    assert_eq!(set.processor.step(&mut set.bus), StepResult::Shutdown);
}

#[test]
fn the_trap_flag_stops_after_each_instruction() {
    // popf sets the flag: the trap comes after the instruction that follows.
    let mut set = set(Model::P8086, &[0x9D, 0x40, 0x43]); // popf; inc ax; inc bx
    set.bus.memory[0x30100] = 0x00;
    set.bus.memory[0x30101] = 0x01;
    set.steps(1);
    assert_eq!(set.at(), Far::new(0x1000, 0x0101));
    set.steps(1);
    assert_eq!((set.at(), set.pushed(0)), (Far::new(0x4000, 0x0100), 0x0102));
    assert!(!set.processor.registers.has(flag::TRAP | flag::INTERRUPT));
    set.steps(2);
    assert_eq!((set.at(), set.pushed(0)), (Far::new(0x4000, 0x0100), 0x0103));
}

#[test]
fn interrupts_wait_for_one_instruction_after_sti_and_stack_segment_loads() {
    let mut sti = set(Model::P8086, &[0xFB, 0x90]);
    sti.steps(1);
    assert!(!sti.processor.takes_interrupts());
    sti.steps(1);
    assert!(sti.processor.takes_interrupts());
    for (model, waits) in [(Model::P8086, true), (Model::P80286, false)] {
        let mut data = set(model, &[0x8E, 0xD8]); // mov ds, ax
        data.processor.registers.put(flag::INTERRUPT, true);
        assert_eq!(data.steps(1).processor.takes_interrupts(), !waits);
        let mut stack = set(model, &[0x8E, 0xD0]); // mov ss, ax
        stack.processor.registers.put(flag::INTERRUPT, true);
        assert!(!stack.steps(1).processor.takes_interrupts());
    }
}

#[test]
fn repeated_strings_can_be_interrupted_and_go_on() {
    for model in Model::ALL {
        let mut set = set(model, &[0xF3, 0xA4]); // rep movsb
        let registers = &mut set.processor.registers;
        registers.set_word(Word::Cx, 5);
        registers.set_word(Word::Si, 0x0500);
        registers.set_word(Word::Di, 0x0600);
        set.bus.memory[0x0500..0x0505].copy_from_slice(b"canal");
        set.steps(2);
        assert_eq!(set.processor.interrupt(&mut set.bus, 0x50), StepResult::Done);
        assert_eq!((set.at(), set.pushed(0)), (Far::new(0x4000, 0x5000), 0x0100));
        set.steps(1 + 3);
        assert_eq!((set.at(), &set.bus.memory[0x0600..0x0605]), (Far::new(0x1000, 0x0102), &b"canal"[..]));
    }
}

/// Of several prefixes the 8086 comes back to the last one only.
#[test]
fn an_interrupted_string_with_two_prefixes_loses_one_on_the_8086() {
    for (model, back) in [(Model::P8086, 0x0101), (Model::P80286, 0x0100)] {
        let mut set = set(model, &[0xF3, 0x26, 0xA4]); // rep movsb from the extra segment
        set.processor.registers.set_word(Word::Cx, 5);
        set.steps(2);
        set.processor.interrupt(&mut set.bus, 0x50);
        assert_eq!(set.pushed(0), back, "{}", model.name());
    }
}

#[test]
fn an_interrupt_ends_a_halt() {
    let mut set = set(Model::P8086, &[0xF4]);
    set.steps(1);
    assert_eq!(set.processor.step(&mut set.bus), StepResult::Halted);
    set.processor.interrupt(&mut set.bus, 8);
    assert_eq!(set.pushed(0), 0x0101);
    set.steps(1);
    assert_eq!(set.at(), Far::new(0x1000, 0x0101));
}

#[test]
fn code_that_changes_itself_runs_as_changed() {
    // A loop whose immediate is incremented by the loop itself.
    #[rustfmt::skip]
    let code = [
        0xBB, 0x00, 0x00,             // mov bx, 0
        0xB9, 0x05, 0x00,             // mov cx, 5
        0x81, 0xC3, 0x01, 0x00,       // next: add bx, 1
        0x2E, 0xFE, 0x06, 0x08, 0x01, // inc byte [cs:0108h], the immediate above
        0xE2, 0xF5,                   // loop next
        0xF4,
    ];
    let mut set = set(Model::P8086, &code);
    set.steps(2 + 5 * 3);
    assert_eq!(set.processor.registers.word(Word::Bx), 1 + 2 + 3 + 4 + 5);
    assert_eq!(set.at(), Far::new(0x1000, 0x0111));
}

#[test]
fn code_reached_through_another_segment_jumps_to_its_own_offsets() {
    let mut set = set(Model::P8086, &[0xEB, 0x10]); // jmp short $+18
    set.steps(1);
    assert_eq!(set.at(), Far::new(0x1000, 0x0112));
    set.processor.registers.go_to(Far::new(0x1010, 0x0000));
    set.steps(1);
    assert_eq!(set.at(), Far::new(0x1010, 0x0012));
}

#[test]
fn the_interrupt_table_can_be_moved_and_cut_on_the_80286() {
    let mut set = set(Model::P80286, &[0x0F, 0x01, 0x1E, 0x00, 0x05, 0xCD, 0x10]); // lidt [0500h]; int 10h
    set.bus.memory[0x0500..0x0506].copy_from_slice(&[0x43, 0x00, 0x00, 0x00, 0x02, 0x00]);
    set.bus.memory[0x20040..0x20044].copy_from_slice(&[0x34, 0x12, 0x00, 0x50]);
    set.steps(2);
    assert_eq!(set.at(), Far::new(0x5000, 0x1234));
}

#[test]
fn protected_mode_is_announced() {
    let mut set = set(Model::P80286, &[0xB8, 0x01, 0x00, 0x0F, 0x01, 0xF0]); // mov ax, 1; lmsw ax
    set.steps(1);
    assert_eq!(set.processor.step(&mut set.bus), StepResult::Protected);
}

#[test]
fn a_coprocessor_that_is_not_there_does_nothing() {
    let mut set = set(Model::P8086, &[0xDB, 0xE3, 0xD9, 0x3E, 0x00, 0x05, 0x40]); // fninit; fnstcw [0500h]; inc ax
    set.bus.memory[0x0500] = 0x5A;
    set.steps(3);
    assert_eq!((set.bus.memory[0x0500], set.processor.registers.word(Word::Ax)), (0x5A, 1));
    assert_eq!(set.at(), Far::new(0x1000, 0x0107));
}

/// A byte in the queue is executed as it was fetched, whatever is written over it; after a jump the new one is
/// (The 8086 Family User's Manual, instruction queue).
#[test]
fn what_was_fetched_is_executed() {
    // mov byte [0105h], 48h: the inc ax behind it becomes dec ax; loop back to it; hlt.
    let code = [0xC6, 0x06, 0x05, 0x01, 0x48, 0x40, 0xE2, 0xFD, 0xF4];
    for model in Model::ALL {
        let Set { processor: by_tables, mut bus } = set(model, &code);
        let mut processor = Processor::new(model);
        processor.registers = by_tables.registers;
        processor.registers.set_segment(SegmentRegister::Ds, 0x1000);
        processor.registers.set_word(Word::Cx, 2);
        processor.start_at(100, 0);
        while !processor.is_halted() {
            assert_eq!(processor.step(&mut bus), StepResult::Done, "{}", model.name());
        }
        // One inc from the queue, one dec from memory.
        assert_eq!(processor.registers.word(Word::Ax), 0, "{}", model.name());
    }
}
