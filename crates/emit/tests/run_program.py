"""Runs a test program on the Unicorn processor emulator and tells what it did.

Usage: run_program.py PROGRAM WINDOW MEMORY-OUT

The status port shows everything in turn, so that every wait ends. Keys: on,
on, back, back, back, on, escape.
"""

import sys

try:
    from unicorn import UC_ARCH_X86, UC_HOOK_INSN, UC_HOOK_INTR, UC_MODE_16, Uc
    from unicorn.x86_const import (UC_X86_INS_IN, UC_X86_INS_OUT, UC_X86_REG_AX, UC_X86_REG_CS, UC_X86_REG_DS,
                                   UC_X86_REG_ES, UC_X86_REG_IP, UC_X86_REG_SP, UC_X86_REG_SS)
except ImportError as error:
    print(f"missing: Python with unicorn ({error})")
    sys.exit(0)

SEGMENT = 0x1000
KEYS = [0x20, 0x20, 8, 8, 8, 0x20, 27]
LIMIT = 50_000_000


def main():
    program, window, out = sys.argv[1], int(sys.argv[2]), sys.argv[3]
    machine = Uc(UC_ARCH_X86, UC_MODE_16)
    machine.mem_map(0, 0x110000)
    with open(program, "rb") as file:
        machine.mem_write(SEGMENT * 16 + 0x100, file.read())
    for register in (UC_X86_REG_CS, UC_X86_REG_DS, UC_X86_REG_ES, UC_X86_REG_SS):
        machine.reg_write(register, SEGMENT)
    machine.reg_write(UC_X86_REG_SP, 0xFFFE)
    modes, ports, keys, reads = [], [], list(KEYS), [0]

    def interrupt(machine, number, _):
        ax = machine.reg_read(UC_X86_REG_AX)
        if number == 0x10:
            modes.append(ax & 0xFF)
            if len(modes) > 1:
                with open(out, "wb") as file:
                    file.write(bytes(machine.mem_read(window, 0x10000 if window == 0xA0000 else 0x4000)))
        elif number == 0x16:
            machine.reg_write(UC_X86_REG_AX, keys.pop(0))
        elif number == 0x21:
            machine.emu_stop()

    def read(machine, port, size, _):
        reads[0] += 1
        return (0x00, 0x01, 0x09, 0x08)[reads[0] % 4]

    def write(machine, port, size, value, _):
        ports.extend([port, value & 0xFF])

    machine.hook_add(UC_HOOK_INTR, interrupt)
    machine.hook_add(UC_HOOK_INSN, read, None, 1, 0, UC_X86_INS_IN)
    machine.hook_add(UC_HOOK_INSN, write, None, 1, 0, UC_X86_INS_OUT)
    machine.emu_start(SEGMENT * 16 + 0x100, 0xFFFFF, count=LIMIT)
    print("modes:", *modes)
    print("ports:", *ports)


main()
