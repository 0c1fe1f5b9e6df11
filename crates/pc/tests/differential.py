"""Runs random real-mode instructions on the reference library `unicorn` and prints what they did.

    differential.py 80286|80386 ROUNDS

Every opcode of the 80286 (real mode) with every addressing form, or of the 80386 with operands and addresses of both
sizes, on random states. The stream is the same every time: the states come from a generator of fixed start. One
instruction a line, fields apart by blanks:

    bytes  before  patches  after  mask  memory  ports  interrupt

`before` and `after` are EAX ECX EDX EBX ESP EBP ESI EDI ES CS SS DS EIP FLAGS FS GS; `patches` and `memory` are ADDRESS=BYTE,…;
`mask` names the flags that the manuals define; `ports` is what was written, PORT=VALUE/SIZE,…; `interrupt` is the
number the processor raised, whose handler `unicorn` leaves to its caller. `-` stands for nothing. Memory holds
`fill(address)` where nothing is patched, ports read as `port_byte(port)`; the test that reads this does the same.
"""

import random
import sys

from unicorn import UC_ARCH_X86, UC_HOOK_INSN, UC_HOOK_INTR, UC_HOOK_MEM_WRITE, UC_MODE_16, Uc, UcError
from unicorn.x86_const import *

MEMORY = 0x110000
STATES = 2  # random states for each opcode and addressing form
PLAIN_STATES = 24  # for each opcode without one
REGISTERS = [
    UC_X86_REG_EAX, UC_X86_REG_ECX, UC_X86_REG_EDX, UC_X86_REG_EBX,
    UC_X86_REG_ESP, UC_X86_REG_EBP, UC_X86_REG_ESI, UC_X86_REG_EDI,
    UC_X86_REG_ES, UC_X86_REG_CS, UC_X86_REG_SS, UC_X86_REG_DS,
    UC_X86_REG_EIP, UC_X86_REG_EFLAGS, UC_X86_REG_FS, UC_X86_REG_GS,
]
AX, CX, DX, BX, SP, BP, SI, DI, ES, CS, SS, DS, IP, FLAGS, FS, GS = range(16)
CF, PF, AF, ZF, SF, TF, IF, DF, OF = 0x1, 0x4, 0x10, 0x40, 0x80, 0x100, 0x200, 0x400, 0x800
ALL = CF | PF | AF | ZF | SF | IF | DF | OF

WITH_MODRM = (
    [base + form for base in range(0, 0x40, 8) for form in range(4)]
    + [0x62, 0x69, 0x6B] + list(range(0x80, 0x90))
    + [0xC0, 0xC1, 0xC4, 0xC5, 0xC6, 0xC7, 0xD0, 0xD1, 0xD2, 0xD3, 0xF6, 0xF7, 0xFE, 0xFF]
)
MEMORY_ONLY = (0x62, 0x8D, 0xC4, 0xC5)
PLAIN = (
    [base + form for base in range(0, 0x40, 8) for form in (4, 5)]
    + [0x06, 0x07, 0x0E, 0x16, 0x17, 0x1E, 0x1F, 0x27, 0x2F, 0x37, 0x3F]
    + list(range(0x40, 0x62)) + [0x68, 0x6A] + list(range(0x70, 0x80)) + list(range(0x90, 0x9B))
    + list(range(0x9C, 0xA0)) + [0xA0, 0xA1, 0xA2, 0xA3, 0xA8, 0xA9] + list(range(0xB0, 0xC0))
    + [0xC2, 0xC3, 0xC8, 0xC9, 0xCA, 0xCB, 0xCC, 0xCD, 0xCE, 0xCF, 0xD4, 0xD5, 0xD7]
    + list(range(0xE0, 0xF0)) + [0xF5] + list(range(0xF8, 0xFE))
)
STRINGS = [0x6C, 0x6D, 0x6E, 0x6F, 0xA4, 0xA5, 0xA6, 0xA7, 0xAA, 0xAB, 0xAC, 0xAD, 0xAE, 0xAF]
IMMEDIATES = {
    0x68: 2, 0x69: 2, 0x6A: 1, 0x6B: 1, 0x80: 1, 0x81: 2, 0x82: 1, 0x83: 1, 0x9A: 4, 0xA0: 2, 0xA1: 2, 0xA2: 2,
    0xA3: 2, 0xA8: 1, 0xA9: 2, 0xC0: 1, 0xC1: 1, 0xC2: 2, 0xC6: 1, 0xC7: 2, 0xC8: 3, 0xCA: 2, 0xCD: 1, 0xD4: 1,
    0xD5: 1, 0xE8: 2, 0xE9: 2, 0xEA: 4,
}
IMMEDIATES.update({base + form: form - 3 for base in range(0, 0x40, 8) for form in (4, 5)})
IMMEDIATES.update({opcode: 1 for opcode in list(range(0x70, 0x80)) + list(range(0xB0, 0xB8))})
IMMEDIATES.update({opcode: 2 for opcode in range(0xB8, 0xC0)})
IMMEDIATES.update({opcode: 1 for opcode in (0xE0, 0xE1, 0xE2, 0xE3, 0xE4, 0xE5, 0xE6, 0xE7, 0xEB)})
OVERRIDES = [(b"", None)] * 5 + [(b"\x26", ES), (b"\x2e", CS), (b"\x36", SS), (b"\x3e", DS)]

rng = random.Random(0x8086)


def fill(address):
    return (address * 0x9E3779B1 & 0xFFFFFFFF) >> 13 & 0xFF


def port_byte(port):
    return (port * 0x35 + 0x17) & 0xFF


def undefined(opcode, reg, count):
    """Flags an instruction leaves undefined (The 8086 Family User's Manual; iAPX 286 Programmer's Reference)."""
    logic = opcode < 0x40 and opcode >> 3 in (1, 4, 6) and opcode & 7 < 6
    if logic or opcode in (0x84, 0x85, 0xA8, 0xA9) or 0x80 <= opcode <= 0x83 and reg in (1, 4, 6):
        return AF
    if opcode in (0xF6, 0xF7):
        return {0: AF, 4: SF | ZF | AF | PF, 5: SF | ZF | AF | PF}.get(reg, 0) | (ALL & ~(IF | DF) if reg > 5 else 0)
    if opcode in (0x69, 0x6B):
        return SF | ZF | AF | PF
    if opcode in (0x27, 0x2F):
        return OF
    if opcode in (0x37, 0x3F):
        return OF | SF | ZF | PF
    if opcode in (0xD4, 0xD5):
        return OF | AF | CF
    if opcode in (0xC0, 0xC1, 0xD0, 0xD1, 0xD2, 0xD3) and count:
        beyond = CF if reg > 3 and count > (16 if opcode & 1 else 8) else 0
        return beyond | (OF if count > 1 else 0) | (AF if reg > 3 else 0)
    return 0


class Reference:
    """One instruction at a time on the reference library."""

    def __init__(self):
        self.uc = Uc(UC_ARCH_X86, UC_MODE_16)
        self.uc.mem_map(0, MEMORY)
        self.memory = bytes(fill(address) for address in range(MEMORY))
        self.uc.mem_write(0, self.memory)
        self.uc.hook_add(UC_HOOK_MEM_WRITE, self.wrote)
        self.uc.hook_add(UC_HOOK_INTR, self.interrupted)
        self.uc.hook_add(UC_HOOK_INSN, self.read_port, None, 1, 0, UC_X86_INS_IN)
        self.uc.hook_add(UC_HOOK_INSN, self.wrote_port, None, 1, 0, UC_X86_INS_OUT)
        self.fresh = self.uc.context_save()

    def wrote(self, uc, access, address, size, value, data):
        self.written.update(range(address, address + size))

    def interrupted(self, uc, number, data):
        self.interrupt = number
        uc.emu_stop()

    def read_port(self, uc, port, size, data):
        return sum(port_byte(port + byte & 0xFFFF) << 8 * byte for byte in range(size))

    def wrote_port(self, uc, port, size, value, data):
        self.ports.append((port, value & (1 << 8 * size) - 1, size))

    def run(self, code, before, patches, repeated):
        """The state after (None where the reference library gives up) and the bytes written."""
        self.written, self.ports, self.interrupt = set(), [], None
        start = before[CS] * 16 + before[IP]
        self.uc.ctl_remove_cache(start, start + 16)
        for address, byte in patches.items():
            self.uc.mem_write(address, bytes([byte]))
        self.uc.mem_write(start, code)
        self.uc.reg_write_batch(list(zip(REGISTERS, before)))
        try:
            if repeated:
                self.uc.emu_start(start, start + len(code))
            else:
                self.uc.emu_start(start, 0xFFFFFFFF, count=1)
            after = list(self.uc.reg_read_batch(REGISTERS))
        except UcError:
            after = None
        touched = self.written | set(patches) | set(range(start, start + len(code)))
        if self.interrupt is not None:
            # It remembers the exception, and would make a double fault of the next.
            self.uc.context_restore(self.fresh)
        memory = {address: self.uc.mem_read(address, 1)[0] for address in sorted(self.written)}
        for address in touched:
            self.uc.mem_write(address, self.memory[address : address + 1])
        return after, memory


def state():
    registers = [rng.getrandbits(16) for _ in range(8)]
    registers += [rng.randrange(0x0800, 0xE000) for _ in range(4)]
    registers += [rng.randrange(0x0100, 0xFE00), 0x0002 | rng.getrandbits(12) & ALL, 0, 0]
    for index in (SP, BP):
        registers[index] = rng.randrange(0x0200, 0xFE00)
    return registers


def effective(modrm, displacement, registers):
    mode, rm = modrm >> 6, modrm & 7
    if mode == 0 and rm == 6:
        return displacement, DS
    parts = [(BX, SI), (BX, DI), (BP, SI), (BP, DI), (SI,), (DI,), (BP,), (BX,)][rm]
    return sum(registers[part] for part in parts) + displacement & 0xFFFF, SS if BP in parts else DS


def modrm_bytes(modrm):
    mode, rm = modrm >> 6, modrm & 7
    size = {0: 2 if rm == 6 else 0, 1: 1, 2: 2, 3: 0}[mode]
    displacement = rng.getrandbits(8 * size) if size else 0
    data = displacement.to_bytes(size, "little")
    if size == 1 and displacement > 127:
        displacement += 0xFF00
    return bytes([modrm]) + data, displacement


def known(opcode, modrm):
    mode, reg = modrm >> 6, modrm >> 3 & 7
    if opcode in MEMORY_ONLY and mode == 3:
        return False
    if opcode in (0x8C, 0x8E):
        return reg < 4 and not (opcode == 0x8E and reg == 1)
    if opcode in (0x8F, 0xC6, 0xC7):
        return reg == 0
    if opcode in (0xC0, 0xC1, 0xD0, 0xD1, 0xD2, 0xD3):
        return reg != 6
    if opcode in (0xF6, 0xF7):
        return reg != 1
    if opcode == 0xFE:
        return reg < 2
    if opcode == 0xFF:
        return reg != 7 and not (reg in (3, 5) and mode == 3)
    return True


def with_modrm(opcode, modrm):
    registers, patches = state(), {}
    reg = modrm >> 3 & 7
    body, displacement = modrm_bytes(modrm)
    size = IMMEDIATES.get(opcode, 0)
    if opcode in (0xF6, 0xF7) and reg == 0:
        size = 1 + (opcode & 1)
    immediate = rng.getrandbits(8 * size).to_bytes(size, "little") if size else b""
    prefix, override = rng.choice(OVERRIDES)
    count = {0xC0: immediate[:1], 0xC1: immediate[:1]}.get(opcode, b"\1")[0] if opcode in (0xC0, 0xC1, 0xD0, 0xD1) else 0
    if opcode in (0xD2, 0xD3):
        registers[CX] = registers[CX] & 0xFF00 | rng.choice([0, 1, 2, 3, 7, 8, 9, 15, 16, 17, 31, 32, 33, 255])
        count = registers[CX] & 0xFF
    if opcode in (0xF6, 0xF7) and reg > 5 and rng.random() < 0.7:
        # Quotients that fit.
        registers[DX if opcode & 1 else AX] = rng.choice([rng.getrandbits(6), 0xFFFF - rng.getrandbits(5)])
    offset, segment = effective(modrm, displacement, registers)
    if modrm < 0xC0 and offset >= 0xFFF8:
        return
    if opcode == 0x62 and rng.random() < 0.8:
        index = registers[reg] ^ 0x8000
        bounds = [rng.randint(0, index) ^ 0x8000, rng.randint(index, 0xFFFF) ^ 0x8000]
        base = registers[segment if override is None else override] * 16 + offset
        data = b"".join(bound.to_bytes(2, "little") for bound in bounds)
        patches = {base + at: byte for at, byte in enumerate(data)}
    mask = ALL & ~undefined(opcode, reg, count & 31)
    emit(prefix + bytes([opcode]) + body + immediate, registers, patches, mask, False)


def plain(opcode):
    registers = state()
    size = IMMEDIATES.get(opcode, 0)
    immediate = bytearray(rng.getrandbits(8) for _ in range(size))
    if opcode in (0x37, 0x3F):
        # Beyond, the carry out of AL goes to AH on later processors only.
        registers[AX] = registers[AX] & 0xFF00 | rng.randrange(0x06, 0xFA)
    if opcode == 0xC8:
        immediate[2] = rng.randrange(0, 40)
    if opcode in (0xE0, 0xE1, 0xE2, 0xE3) and rng.random() < 0.5:
        registers[CX] = rng.randrange(0, 3)
    if opcode in (0xA0, 0xA1, 0xA2, 0xA3) and immediate[1] == 0xFF:
        return
    prefix = rng.choice(OVERRIDES)[0] if opcode in (0xA0, 0xA1, 0xA2, 0xA3, 0xD7) else b""
    emit(prefix + bytes([opcode]) + bytes(immediate), registers, {}, ALL & ~undefined(opcode, 0, 0), False)


def string(opcode):
    registers = state()
    registers[CX] = rng.randrange(0, 9)
    for index in (SI, DI):
        registers[index] = rng.randrange(0x0040, 0xFFC0)
    patches = {}
    repeat = rng.choice([b"", b"\xf2", b"\xf3"])
    prefix, override = rng.choice(OVERRIDES)
    if opcode in (0xA6, 0xA7, 0xAE, 0xAF) and rng.random() < 0.8:
        # Some equal elements, so that comparisons go on for a while.
        source = registers[DS if override is None else override] * 16 + registers[SI]
        destination = registers[ES] * 16 + registers[DI]
        for at in range(-16, 16):
            value = registers[AX] >> 8 * (at & 1) & 0xFF if rng.random() < 0.9 else rng.getrandbits(8)
            patches[source + at] = patches[destination + at] = value
    prefixes = [part for part in (prefix, repeat) if part]
    rng.shuffle(prefixes)
    emit(b"".join(prefixes) + bytes([opcode]), registers, patches, ALL, bool(repeat))


def pairs(items):
    return ",".join(f"{key:x}={value:x}" for key, value in items) or "-"


def emit(code, before, patches, mask, repeated):
    start = before[CS] * 16 + before[IP]
    if any(start - 16 <= address < start + 32 for address in patches):
        return
    after, memory = reference.run(code, before, patches, repeated)
    if after is None or after[IP] > 0xFFFF or any(start - 16 <= address < start + 32 for address in memory):
        return
    words = lambda registers: ".".join(f"{value & (0xFFFF if at == FLAGS else 0xFFFFFFFF):x}" for at, value in enumerate(registers))
    ports = ",".join(f"{port:x}={value:x}/{size}" for port, value, size in reference.ports) or "-"
    interrupt = "-" if reference.interrupt is None else f"{reference.interrupt:x}"
    print(code.hex(), words(before), pairs(patches.items()), words(after), f"{mask:x}", pairs(memory.items()), ports, interrupt)


# ---- the 80386 ----

LEVELS = 0x7000  # flags that mean nothing in real mode and can be set
WIDE_OVERRIDES = OVERRIDES + [(b"\x64", FS), (b"\x65", GS)]
WIDE_MODRM = [bytes([opcode]) for opcode in WITH_MODRM] + [
    b"\x0f" + bytes([opcode])
    for opcode in list(range(0x90, 0xA0))
    + [0xA3, 0xA4, 0xA5, 0xAB, 0xAC, 0xAD, 0xAF, 0xB2, 0xB3, 0xB4, 0xB5, 0xB6, 0xB7, 0xBA, 0xBB, 0xBC, 0xBD, 0xBE, 0xBF]
]
WIDE_PLAIN = [bytes([opcode]) for opcode in PLAIN] + [
    b"\x0f" + bytes([opcode]) for opcode in list(range(0x80, 0x90)) + [0xA0, 0xA1, 0xA8, 0xA9]
]
# Opcodes whose immediate operand follows the size of operands, of addresses.
BY_OPERAND = {0x68, 0x69, 0x81, 0x9A, 0xA9, 0xC7, 0xE8, 0xE9, 0xEA} | set(range(0xB8, 0xC0)) | set(range(0x05, 0x40, 8))
BY_ADDRESS = {0xA0, 0xA1, 0xA2, 0xA3}
WIDE_IMMEDIATES = {0xA4: 1, 0xAC: 1, 0xBA: 1}
MODRMS = 6  # second bytes tried of each opcode, for each pair of sizes
BIT_TESTS = (0xA3, 0xAB, 0xB3, 0xBB)


def wide_state():
    registers = state()
    for index in range(8):
        registers[index] |= rng.getrandbits(16) << 16 if rng.random() < 0.8 else 0
    registers[FLAGS] |= rng.getrandbits(16) & LEVELS
    registers[FS], registers[GS] = rng.randrange(0x0800, 0xE000), rng.randrange(0x0800, 0xE000)
    return registers


def wide_address(modrm, registers):
    """Operand bytes of a 32-bit address, small enough for a segment, and where it leads."""
    mode, rm = modrm >> 6, modrm & 7
    body, parts, base = bytes([modrm]), [], rm
    if rm == 4:
        scale, index, base = rng.randrange(4), rng.randrange(8), rng.randrange(8)
        body += bytes([scale << 6 | index << 3 | base])
        if index != 4:
            registers[index] = rng.randrange(0x1000)
            parts.append((index, scale))
    has_base = not (base == 5 and mode == 0)
    if has_base:
        registers[base] = rng.randrange(0x0080, 0x3000)
        parts.append((base, 0))
    size = {0: 0 if has_base else 4, 1: 1, 2: 4}[mode]
    displacement = rng.randrange(-128, 128) if size == 1 else rng.randrange(0x4000) if size else 0
    body += (displacement & (1 << 8 * size) - 1).to_bytes(size, "little")
    offset = sum(registers[part] << shift for part, shift in parts) + displacement
    return body, offset, SS if has_base and base in (SP, BP) else DS


def wide_undefined(code, reg, count, size):
    opcode = code[-1]
    if code[0] != 0x0F:
        rest = undefined(opcode, reg, count)
        if opcode in (0xC0, 0xC1, 0xD0, 0xD1, 0xD2, 0xD3) and size == 4:
            rest &= ~CF
        return rest
    if opcode in BIT_TESTS or opcode == 0xBA:
        return OF | SF | ZF | AF | PF
    if opcode in (0xBC, 0xBD):
        return OF | SF | CF | AF | PF
    if opcode == 0xAF:
        return SF | ZF | AF | PF
    if opcode in (0xA4, 0xA5, 0xAC, 0xAD) and count:
        return AF | (OF if count > 1 else 0)
    return 0


def wide_known(code, modrm):
    mode, reg = modrm >> 6, modrm >> 3 & 7
    if code[0] == 0x0F:
        return (mode != 3 or code[1] not in (0xB2, 0xB4, 0xB5)) and (code[1] != 0xBA or reg > 3)
    if code[0] in (0x8C, 0x8E):
        return reg < 6 and not (code[0] == 0x8E and reg == 1)
    return known(code[0], modrm)


def wide_with_modrm(code, modrm, operands, addresses):
    registers, patches = wide_state(), {}
    opcode, two = code[-1], code[0] == 0x0F
    reg, size = modrm >> 3 & 7, 4 if operands else 2
    prefix, override = rng.choice(WIDE_OVERRIDES)
    offset, segment = 0, DS
    if modrm >= 0xC0:
        body = bytes([modrm])
    elif addresses:
        body, offset, segment = wide_address(modrm, registers)
    else:
        body, displacement = modrm_bytes(modrm)
        offset, segment = effective(modrm, displacement, registers)
        for index in range(8):
            registers[index] |= rng.getrandbits(16) << 16
    length = (WIDE_IMMEDIATES if two else IMMEDIATES).get(opcode, 0)
    if not two and opcode in BY_OPERAND and operands:
        length += 2
    if not two and opcode in (0xF6, 0xF7) and reg == 0:
        length = size if opcode & 1 else 1
    immediate = rng.getrandbits(8 * length).to_bytes(length, "little") if length else b""
    count = 0
    if two and opcode in (0xA4, 0xAC) or not two and opcode in (0xC0, 0xC1):
        count = immediate[0]
    elif not two and opcode in (0xD0, 0xD1):
        count = 1
    elif two and opcode in (0xA5, 0xAD) or not two and opcode in (0xD2, 0xD3):
        if not addresses:
            registers[CX] = registers[CX] & ~0xFF | rng.choice([0, 1, 2, 3, 7, 8, 9, 15, 16, 17, 31, 32, 33, 255])
        count = registers[CX] & 0xFF
    if two and opcode in (0xA4, 0xA5, 0xAC, 0xAD) and count & 31 > 8 * size - 1:
        return
    if two and opcode in BIT_TESTS and modrm < 0xC0:
        # Near the operand, and the register perhaps part of the address.
        if operands and not addresses:
            registers[reg] = rng.randrange(-0x4000, 0x4000) & 0xFFFFFFFF
            if reg in (BX, BP, SI, DI):
                offset, segment = effective(modrm, displacement, registers)
        number = registers[reg] & (1 << 8 * size) - 1
        number -= 1 << 8 * size if number >> 8 * size - 1 else 0
        offset += (number >> 3) & -size
        if not addresses:
            offset &= 0xFFFF
    if not two and opcode in (0xF6, 0xF7) and reg > 5 and rng.random() < 0.7:
        upper = DX if opcode & 1 else AX
        if modrm >= 0xC0 or not addresses:
            registers[upper] = rng.choice([rng.getrandbits(6), (1 << 8 * size) - 1 - rng.getrandbits(5)])
            if modrm < 0xC0:
                offset, segment = effective(modrm, displacement, registers)
    if modrm < 0xC0 and not 0 <= offset < 0xFFF0:
        return
    base = registers[segment if override is None else override] * 16 + offset
    if not two and opcode == 0x62 and rng.random() < 0.8:
        top = 1 << 8 * size - 1
        index = registers[reg] & 2 * top - 1 ^ top
        bounds = [rng.randint(0, index) ^ top, rng.randint(index, 2 * top - 1) ^ top]
        patches = dict(enumerate(b"".join(bound.to_bytes(size, "little") for bound in bounds), base))
    if not two and opcode == 0xFF and 2 <= reg <= 5 and operands:
        # Code lies in the first 64 KiB of its segment.
        if modrm >= 0xC0:
            registers[modrm & 7] &= 0xFFFF
        else:
            patches = {base + 2: 0, base + 3: 0}
    sizes = (b"\x66" if operands else b"") + (b"\x67" if addresses else b"")
    mask = (ALL | LEVELS) & ~wide_undefined(code, reg, count & 31, size if opcode & 1 else 1)
    emit(prefix + sizes + code + body + immediate, registers, patches, mask, False)


def wide_plain(code, operands, addresses):
    registers, patches = wide_state(), {}
    opcode, two = code[-1], code[0] == 0x0F
    length = (2 if opcode < 0x90 else 0) if two else IMMEDIATES.get(opcode, 0)
    value = rng.getrandbits(8 * length) if length else 0
    if two and length:
        value = rng.randrange(-0x80, 0x80) & 0xFFFFFFFF
    if not two and opcode in (0xE8, 0xE9):
        value = rng.randrange(-0x80, 0x80) & 0xFFFFFFFF
    if not two and opcode in (0x9A, 0xEA) and operands:
        value = value & 0xFFFF | value >> 16 << 32
    if operands and (two and length or not two and opcode in BY_OPERAND) or addresses and not two and opcode in BY_ADDRESS:
        if opcode not in (0x9A, 0xEA, 0xE8, 0xE9) and not two and opcode not in BY_ADDRESS:
            value |= rng.getrandbits(16) << 16
        length += 2
    immediate = bytearray((value & (1 << 8 * length) - 1).to_bytes(length, "little"))
    if not two:
        if opcode in (0x37, 0x3F):
            registers[AX] = registers[AX] & ~0xFF | rng.randrange(0x06, 0xFA)
        if opcode == 0xC8:
            immediate[2] = rng.randrange(0, 40)
            registers[SP], registers[BP] = registers[SP] & 0xFFFF, registers[BP] & 0xFFFF
        if opcode in (0xE0, 0xE1, 0xE2, 0xE3) and rng.random() < 0.5:
            registers[CX] = rng.randrange(0, 3) | (0 if addresses else registers[CX] & ~0xFFFF)
        if opcode in BY_ADDRESS and immediate[1] == 0xFF:
            return
        if opcode == 0xD7 and addresses:
            registers[BX] &= 0x7FFF
        stack = registers[SS] * 16 + (registers[SP] & 0xFFFF)
        if operands and opcode in (0xC2, 0xC3, 0xCA, 0xCB, 0xCF):
            patches = {stack + 2: 0, stack + 3: 0}
        if operands and opcode in (0x9D, 0xCF):
            at = 2 if opcode == 0x9D else 10
            patches.update({stack + at: 0, stack + at + 1: 0})
    prefix = rng.choice(WIDE_OVERRIDES)[0] if not two and opcode in (0xA0, 0xA1, 0xA2, 0xA3, 0xD7) else b""
    sizes = (b"\x66" if operands else b"") + (b"\x67" if addresses else b"")
    mask = (ALL | LEVELS) & ~(0 if two else undefined(opcode, 0, 0))
    emit(prefix + sizes + code + bytes(immediate), registers, patches, mask, False)


def wide_string(opcode, operands, addresses):
    registers = wide_state()
    registers[CX] = rng.randrange(0, 9) | (0 if addresses else rng.getrandbits(16) << 16)
    for index in (SI, DI):
        registers[index] = rng.randrange(0x0040, 0xFFC0) | (0 if addresses else rng.getrandbits(16) << 16)
    patches = {}
    repeat = rng.choice([b"", b"\xf2", b"\xf3"])
    prefix, override = rng.choice(WIDE_OVERRIDES)
    if opcode in (0xA6, 0xA7, 0xAE, 0xAF) and rng.random() < 0.8:
        source = registers[DS if override is None else override] * 16 + (registers[SI] & 0xFFFF)
        destination = registers[ES] * 16 + (registers[DI] & 0xFFFF)
        for at in range(-32, 32):
            value = registers[AX] >> 8 * (at & 3) & 0xFF if rng.random() < 0.95 else rng.getrandbits(8)
            patches[source + at] = patches[destination + at] = value
    prefixes = [part for part in (prefix, repeat) if part]
    prefixes += [b"\x66"] * operands + [b"\x67"] * addresses
    rng.shuffle(prefixes)
    emit(b"".join(prefixes) + bytes([opcode]), registers, patches, ALL | LEVELS, bool(repeat))


def of_80286():
    for opcode in WITH_MODRM:
        for modrm in range(256):
            if known(opcode, modrm):
                for _ in range(STATES):
                    with_modrm(opcode, modrm)
    for opcode in PLAIN:
        for _ in range(PLAIN_STATES):
            plain(opcode)
    for opcode in STRINGS:
        for _ in range(4 * PLAIN_STATES):
            string(opcode)


def of_80386():
    for operands, addresses in ((0, 0), (1, 0), (0, 1), (1, 1)):
        for code in WIDE_MODRM:
            for modrm in rng.sample([modrm for modrm in range(256) if wide_known(code, modrm)], MODRMS):
                wide_with_modrm(code, modrm, operands, addresses)
        for code in WIDE_PLAIN:
            for _ in range(MODRMS):
                wide_plain(code, operands, addresses)
        for opcode in STRINGS:
            for _ in range(2 * MODRMS):
                wide_string(opcode, operands, addresses)


reference = Reference()
model = sys.argv[1] if len(sys.argv) > 1 else "80286"
rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 1
for _ in range(rounds):
    of_80386() if model == "80386" else of_80286()
