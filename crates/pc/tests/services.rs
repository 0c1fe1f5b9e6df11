//! Services that programs detect and lean on: a mouse, files by control blocks, expanded memory that is not present.

mod common;

use backporch_pc::{Folder, MachineSetup, Model, MouseMovement, Stop};
use common::{has_assembler, machine, run, setup, source};

/// The code a program ends with, and what it printed.
fn ends(text: &str, setup: MachineSetup) -> (u8, String) {
    let mut machine = machine("linear-256", &source(text), setup);
    let stop = run(&mut machine).1;
    let Stop::Exit(code) = stop else { panic!("{stop:?}") };
    assert!(machine.asked().is_empty(), "{:?}", machine.asked());
    (code, machine.printed())
}

fn with_mouse(movements: &[(u64, [i16; 2], u8)]) -> MachineSetup {
    let movement = |(milliseconds, steps, buttons): &(u64, [i16; 2], u8)| {
        (milliseconds * 1_000_000, MouseMovement { steps: *steps, buttons: *buttons })
    };
    MachineSetup { mouse: Some(movements.iter().map(movement).collect()), ..setup(Model::P8086) }
}

/// Prints AX, BX, CX and DX as four hexadecimal digits each.
const PRINT: &str = "
print:  push ax
        push bx
        push cx
        push dx
        call word4
        mov ax, bx
        call word4
        mov ax, cx
        call word4
        mov ax, dx
        call word4
        pop dx
        pop cx
        pop bx
        pop ax
        ret
word4:  push bx
        push cx
        push dx
        mov bx, ax
        mov cx, 4
.digit: rol bx, 1
        rol bx, 1
        rol bx, 1
        rol bx, 1
        mov dl, bl
        and dl, 15
        add dl, '0'
        cmp dl, '9'
        jbe .small
        add dl, 7
.small: mov ah, 2
        int 21h
        loop .digit
        mov dl, ' '
        mov ah, 2
        int 21h
        pop dx
        pop cx
        pop bx
        ret
";

/// Function 0 says FFFFh and two buttons; eight steps are eight pixels across, sixteen are eight down (common practice).
#[test]
fn a_mouse_is_there_and_moves() {
    if !has_assembler() {
        return;
    }
    let text = format!(
        "xor ax, ax
        int 33h
        xor cx, cx
        xor dx, dx
        call print
        mov ax, 3
        int 33h
        call print
.wait:  mov ax, 3
        int 33h
        cmp bx, 2
        jne .wait
        call print
        mov ax, 5
        mov bx, 0
        int 33h
        call print
        mov ax, 6
        mov bx, 0
        int 33h
        call print
        mov ax, 0Bh
        xor bx, bx
        int 33h
        call print
        mov ax, 7
        mov cx, 10
        mov dx, 20
        int 33h
        mov ax, 4
        mov cx, 600
        mov dx, 100
        int 33h
        mov ax, 3
        int 33h
        call print
        mov ax, 4C00h
        int 21h
        {PRINT}"
    );
    let setup = with_mouse(&[(200, [8, -16], 1), (220, [16, 32], 0), (240, [0, 0], 2)]);
    let wanted = [
        "FFFF 0002 0000 0000",
        "0003 0000 0140 0064",
        "0003 0002 0158 006C",
        "0002 0001 0148 005C",
        "0002 0001 0158 006C",
        "000B 0000 0018 0010",
        "0003 0002 0014 0064",
    ];
    assert_eq!(ends(&text, setup).1.trim_end(), wanted.join(" "));
}

/// Function 0Ch: the handler is called with what happened, and everything it changes is put back.
#[test]
fn a_mouse_calls_the_programs_handler() {
    if !has_assembler() {
        return;
    }
    let text = format!(
        "xor ax, ax
        int 33h
        mov ax, cs
        mov es, ax
        mov ax, 0Ch
        mov cx, 3
        mov dx, handler
        int 33h
        mov ax, 1234h
        mov si, 5678h
.wait:  cmp byte [calls], 2
        jb .wait
        cmp ax, 1234h
        jne bad
        cmp si, 5678h
        jne bad
        mov ax, [seen]
        mov bx, [seen + 2]
        mov cx, [seen + 4]
        mov dx, [seen + 6]
        call print
        mov ax, 4C00h
        int 21h
bad:    mov ax, 4C01h
        int 21h
handler: mov [cs:seen], ax
        mov [cs:seen + 2], bx
        mov [cs:seen + 4], cx
        mov [cs:seen + 6], dx
        inc byte [cs:calls]
        xor ax, ax
        xor si, si
        retf
calls:  db 0
seen:   dw 0, 0, 0, 0
        {PRINT}"
    );
    // The button's going up is not asked for.
    let setup = with_mouse(&[(50, [0, 0], 1), (100, [0, 0], 0), (150, [24, 16], 0)]);
    assert_eq!(ends(&text, setup), (0, "0001 0000 0158 006C ".to_string()));
}

/// A mouse is detected by its vector and by function 0; without one both say so.
#[test]
fn detection_tells_whether_there_is_a_mouse() {
    if !has_assembler() {
        return;
    }
    let image = common::program("detect.asm", &[]);
    for (setup, says) in [(setup(Model::P8086), ", no mouse,"), (with_mouse(&[]), ", mouse,")] {
        let mut machine = machine("vga", &image, setup);
        run(&mut machine);
        assert!(machine.printed().contains(says), "{}", machine.printed());
    }
}

/// A block's name, its records one after the other, at random and in a row; the last one is filled up with zeros (common
/// practice).
#[test]
fn files_are_read_by_control_blocks() {
    if !has_assembler() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let content: Vec<u8> = (0..300u32).map(|at| (at * 7) as u8).collect();
    std::fs::write(folder.path().join("tide.dat"), &content).unwrap();
    let text = format!(
        "mov dx, block
        mov ah, 0Fh
        int 21h
        or al, al
        jnz bad
        mov ax, [block + 14]
        mov bx, [block + 16]
        mov cx, [block + 18]
        xor dx, dx
        call print
        mov dx, buffer
        mov ah, 1Ah
        int 21h
        mov dx, block
        mov ah, 14h             ; the first record of 128
        int 21h
        mov bl, al
        mov bh, [block + 32]
        mov ax, [buffer + 126]
        call print
        mov ah, 14h
        int 21h
        mov ah, 14h             ; the third has 44 bytes
        int 21h
        mov bl, al
        mov bh, [buffer + 44]
        mov ax, [buffer + 42]
        call print
        mov ah, 14h             ; there is no fourth
        int 21h
        mov ah, 0
        call print
        mov word [block + 14], 10
        mov word [block + 33], 4
        mov word [block + 35], 0
        mov cx, 100             ; records 4 to 29
        mov ah, 27h
        int 21h
        mov bx, [buffer]
        mov dx, [block + 33]
        mov ah, 0
        call print
        mov dx, block
        mov word [block + 33], 2
        mov ah, 21h
        int 21h
        mov bx, [buffer]
        mov ah, 0
        call print
        mov dx, any
        mov ah, 11h
        int 21h
        mov ah, 0
        mov bx, [buffer + 1]
        mov cx, [buffer + 9]
        mov dx, [buffer + 29]
        call print
        mov dx, any
        mov ah, 12h
        int 21h
        mov ah, 0
        call print
        mov dx, none
        mov ah, 0Fh
        int 21h
        mov ah, 0
        call print
        mov ax, 4C00h
        int 21h
bad:    mov ax, 4C01h
        int 21h
block:  db 0, 'TIDE    DAT'
        times 28 db 0
any:    db 0, 'T???????D??'
        times 28 db 0
none:   db 0, 'EBB     DAT'
        times 28 db 0
        {PRINT}
buffer: times 512 db 0"
    );
    let setup = MachineSetup { folder: Some(Folder::new(folder.path(), false).unwrap()), ..setup(Model::P8086) };
    let (code, printed) = ends(&text, setup);
    let word = |at: usize| u16::from_le_bytes([content[at], content[at + 1]]);
    let lines: Vec<&str> = printed.split_whitespace().collect();
    let lines: Vec<&[&str]> = lines.chunks(4).collect();
    let hex = |word: u16| format!("{word:04X}");
    assert_eq!(code, 0);
    assert_eq!(lines[0][..3], ["0080", "012C", "0000"]);
    assert_eq!(lines[1][..2], [hex(word(126)), "0100".to_string()]);
    assert_eq!(lines[2][..2], [hex(word(298)), "0003".to_string()]);
    assert_eq!(lines[3][0], "0001");
    // 26 records, the next is 30, and then the file is over.
    assert_eq!(lines[4], ["0001", &hex(word(40)), "001A", "001E"]);
    assert_eq!(lines[5][..2], ["0000".to_string(), hex(word(20))]);
    assert_eq!(lines[6], ["0000", &hex(u16::from_le_bytes(*b"TI")), &hex(u16::from_le_bytes(*b"DA")), "012C"]);
    assert_eq!((lines[7][0], lines[8][0]), ("00FF", "00FF"));
}

/// Functions 13h, 15h to 17h, 22h, 23h and 28h change files by control blocks as they are described (common practice), and
/// nothing where the folder may only be read.
#[test]
fn files_are_written_renamed_and_deleted_by_control_blocks() {
    if !has_assembler() {
        return;
    }
    let text = "mov dx, block
        mov ah, 16h             ; create
        int 21h
        or al, al
        jnz bad
        mov dx, words
        mov ah, 1Ah
        int 21h
        mov dx, block
        mov word [block + 14], 4
        mov ah, 15h             ; two records in a row
        int 21h
        mov ah, 15h
        int 21h
        mov word [block + 33], 3
        mov ah, 22h             ; the fourth: the third is zeros
        int 21h
        mov cx, 2               ; two more from the fifth on
        mov word [block + 33], 4
        mov ah, 28h
        int 21h
        cmp cx, 2
        jne bad
        mov word [block + 33], 5
        mov cx, 0               ; the sixth goes
        mov ah, 28h
        int 21h
        cmp word [block + 16], 20
        jne bad
        mov ah, 10h             ; close
        int 21h
        or al, al
        jnz bad
        mov word [block + 14], 8
        mov ah, 23h             ; 20 bytes are three records of 8
        int 21h
        cmp word [block + 33], 3
        jne bad
        mov dx, two
        mov ah, 16h
        int 21h
        mov ah, 10h
        int 21h
        mov dx, change          ; TIDE.DAT and TIME.DAT to *.OLD
        mov ah, 17h
        int 21h
        or al, al
        jnz bad
        mov dx, gone
        mov ah, 13h             ; TIME.OLD goes
        int 21h
        or al, al
        jnz bad
        mov ah, 13h             ; it is gone
        int 21h
        cmp al, 0FFh
        jne bad
        mov ax, 4C00h
        int 21h
bad:    mov ax, 4C01h
        int 21h
block:  db 0, 'TIDE    DAT'
        times 28 db 0
two:    db 3, 'TIME    DAT'
        times 28 db 0
change: db 0, 'TI?E    DAT'
        times 5 db 0
        db '????????OLD'
        times 12 db 0
gone:   db 0, 'TIM?    ???'
        times 28 db 0
words:  db 'quayside'";
    let folder = tempfile::tempdir().unwrap();
    let with = |writable| {
        let folder = Some(Folder::new(folder.path(), writable).unwrap());
        ends(text, MachineSetup { folder, ..setup(Model::P8086) }).0
    };
    let names = || -> Vec<String> {
        let entries = std::fs::read_dir(folder.path()).unwrap();
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
    };
    assert_eq!((with(false), names().len()), (1, 0), "it may only be read");
    assert_eq!(with(true), 0);
    assert_eq!(names(), ["TIDE.OLD"]);
    assert_eq!(std::fs::read(folder.path().join("TIDE.OLD")).unwrap(), b"quayquay\0\0\0\0quayquay");
    // Function 56h does the same by names.
    let by_name = "push ds
        pop es
        mov dx, old
        mov di, new
        mov ah, 56h
        int 21h
        mov al, 0
        adc al, 0
        mov ah, 4Ch
        int 21h
old:    db 'TIDE.OLD', 0
new:    db 'EBB.NEW', 0";
    let folder_of = |writable| Some(Folder::new(folder.path(), writable).unwrap());
    for (writable, code) in [(false, 1), (true, 0)] {
        let setup = MachineSetup { folder: folder_of(writable), ..setup(Model::P8086) };
        assert_eq!(ends(by_name, setup).0, code);
    }
    assert_eq!(names(), ["EBB.NEW"]);
}

/// The memory beside the clock: 640 KiB, the display and a disk drive (Technical Reference of the AT); machines before have none.
#[test]
fn the_clock_memory_answers_on_later_machines() {
    if !has_assembler() {
        return;
    }
    let text = |at: u8| format!("mov al, {at}\n out 70h, al\n in al, 71h\n mov ah, 4Ch\n int 21h");
    let read = |board: &str, model: Model, at: u8| {
        let mut machine = machine(board, &source(&text(at)), setup(model));
        let Stop::Exit(code) = run(&mut machine).1 else { panic!("it ends") };
        (code, machine.asked().len())
    };
    for model in [Model::P80286, Model::P80386] {
        assert_eq!([0x15, 0x16, 0x0D].map(|at| read("vga", model, at)), [(0x80, 0), (0x02, 0), (0x80, 0)]);
        let boards = ["vga", "colour-graphics", "monochrome"].map(|board| read(board, model, 0x14));
        assert_eq!(boards, [(0x01, 0), (0x21, 0), (0x31, 0)]);
    }
    assert_eq!(read("vga", Model::P8086, 0x15), (0xFF, 2), "an open bus");
}

/// Neither the name ten bytes behind the vector nor the device says that there is expanded memory (common practice).
#[test]
fn expanded_memory_is_not_here() {
    if !has_assembler() {
        return;
    }
    let text = "mov ax, 3567h
        int 21h
        cmp word [es:10], 'EM'
        je bad
        mov ax, 3D00h
        mov dx, name
        int 21h
        jnc bad
        mov ah, 4Ch
        int 21h                 ; with the error's number
bad:    mov ax, 4CFFh
        int 21h
name:   db 'EMMXXXX0', 0";
    assert_eq!(ends(text, setup(Model::P8086)).0, 2);
}
