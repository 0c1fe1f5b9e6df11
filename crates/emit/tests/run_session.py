"""Runs a test session on the Unicorn processor emulator, with keys, and writes the answers that it writes.

Usage: run_session.py PROGRAM KEYS ANSWERS-OUT

KEYS are words of function 00h of interrupt 16h in hexadecimal, separated by commas. The status port shows everything in
turn, so that every wait ends. Prints the modes that were set and the ports that were written.
"""

import sys

try:
    from unicorn import UC_ARCH_X86, UC_HOOK_INSN, UC_HOOK_INTR, UC_MODE_16, Uc
    from unicorn.x86_const import (UC_X86_INS_IN, UC_X86_INS_OUT, UC_X86_REG_AX, UC_X86_REG_BX, UC_X86_REG_CS,
                                   UC_X86_REG_CX, UC_X86_REG_DS, UC_X86_REG_DX, UC_X86_REG_EFLAGS, UC_X86_REG_ES,
                                   UC_X86_REG_SP, UC_X86_REG_SS)
except ImportError as error:
    print(f"missing: Python with unicorn ({error})")
    sys.exit(0)

SEGMENT = 0x1000
LIMIT = 400_000_000


def main():
    program, keys, out = sys.argv[1], [int(key, 16) for key in sys.argv[2].split(",")], sys.argv[3]
    machine = Uc(UC_ARCH_X86, UC_MODE_16)
    machine.mem_map(0, 0x110000)
    machine.mem_write(SEGMENT * 16 + 2, b"\x00\xa0")
    with open(program, "rb") as file:
        machine.mem_write(SEGMENT * 16 + 0x100, file.read())
    for register in (UC_X86_REG_CS, UC_X86_REG_DS, UC_X86_REG_ES, UC_X86_REG_SS):
        machine.reg_write(register, SEGMENT)
    machine.reg_write(UC_X86_REG_SP, 0xFFFE)
    modes, ports, reads, files = [], [], [0], {}

    def answer(value, failed=False):
        machine.reg_write(UC_X86_REG_AX, value)
        flags = machine.reg_read(UC_X86_REG_EFLAGS)
        machine.reg_write(UC_X86_REG_EFLAGS, flags | 1 if failed else flags & ~1)

    def system(ax):
        dx = machine.reg_read(UC_X86_REG_DX)
        at = machine.reg_read(UC_X86_REG_DS) * 16 + dx
        service = ax >> 8
        if service == 0x3D:
            answer(2, failed=True)
        elif service == 0x3C:
            name = bytes(machine.mem_read(at, 16)).split(b"\0")[0].decode()
            files[5] = (name, b"")
            answer(5)
        elif service == 0x40:
            count = machine.reg_read(UC_X86_REG_CX)
            name, before = files[machine.reg_read(UC_X86_REG_BX)]
            files[5] = (name, before + bytes(machine.mem_read(at, count)))
            answer(count)
        elif service == 0x3E:
            answer(0)
        elif service == 0x4C:
            machine.emu_stop()

    def interrupt(machine, number, _):
        ax = machine.reg_read(UC_X86_REG_AX)
        if number == 0x10:
            modes.append(ax & 0xFF)
        elif number == 0x16:
            machine.reg_write(UC_X86_REG_AX, keys.pop(0))
        elif number == 0x21:
            system(ax)

    def read(machine, port, size, _):
        reads[0] += 1
        return (0x00, 0x01, 0x09, 0x08)[reads[0] % 4]

    def write(machine, port, size, value, _):
        ports.extend([port, value & 0xFF])

    machine.hook_add(UC_HOOK_INTR, interrupt)
    machine.hook_add(UC_HOOK_INSN, read, None, 1, 0, UC_X86_INS_IN)
    machine.hook_add(UC_HOOK_INSN, write, None, 1, 0, UC_X86_INS_OUT)
    machine.emu_start(SEGMENT * 16 + 0x100, 0xFFFFF, count=LIMIT)
    name, text = files[5]
    with open(out, "wb") as file:
        file.write(text)
    print("file:", name)
    print("modes:", *modes)
    print("ports:", *ports)


main()
