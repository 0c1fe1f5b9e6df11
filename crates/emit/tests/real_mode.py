"""A processor of another make, with a flat program loaded and as much around it as the test programs need.

Ports that are read show everything in turn, so that every wait ends; modes set, and ports written with their values, are
kept.
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


class RealMode:
    def __init__(self, program, keys):
        """Keys are words of function 00h of interrupt 16h."""
        self.machine = Uc(UC_ARCH_X86, UC_MODE_16)
        self.machine.mem_map(0, 0x110000)
        with open(program, "rb") as file:
            self.machine.mem_write(SEGMENT * 16 + 0x100, file.read())
        for register in (UC_X86_REG_CS, UC_X86_REG_DS, UC_X86_REG_ES, UC_X86_REG_SS):
            self.machine.reg_write(register, SEGMENT)
        self.machine.reg_write(UC_X86_REG_SP, 0xFFFE)
        self.modes, self.ports, self.keys, self.reads = [], [], list(keys), 0

    def mode_is_set(self):
        """A mode has been set, the last of those kept."""

    def system(self, ax):
        """Function AH of interrupt 21h; ends the run."""
        self.machine.emu_stop()

    def run(self, limit):
        """From the program's beginning on, for at most this many instructions."""
        self.machine.hook_add(UC_HOOK_INTR, self._interrupt)
        self.machine.hook_add(UC_HOOK_INSN, self._read, None, 1, 0, UC_X86_INS_IN)
        self.machine.hook_add(UC_HOOK_INSN, self._write, None, 1, 0, UC_X86_INS_OUT)
        self.machine.emu_start(SEGMENT * 16 + 0x100, 0xFFFFF, count=limit)

    def tell(self):
        """Prints modes and ports."""
        print("modes:", *self.modes)
        print("ports:", *self.ports)

    def _interrupt(self, machine, number, _):
        ax = machine.reg_read(UC_X86_REG_AX)
        if number == 0x10:
            self.modes.append(ax & 0xFF)
            self.mode_is_set()
        elif number == 0x16:
            machine.reg_write(UC_X86_REG_AX, self.keys.pop(0))
        elif number == 0x21:
            self.system(ax)

    def _read(self, machine, port, size, _):
        self.reads += 1
        return (0x00, 0x01, 0x09, 0x08)[self.reads % 4]

    def _write(self, machine, port, size, value, _):
        self.ports.extend([port, value & 0xFF])


class WithFiles(RealMode):
    """With the file functions that sessions and surveys use; no name is taken, one file is written."""

    def __init__(self, program, keys):
        super().__init__(program, keys)
        self.machine.mem_write(SEGMENT * 16 + 2, b"\x00\xa0")
        self.name, self.text = None, b""

    def answer(self, value, failed=False):
        self.machine.reg_write(UC_X86_REG_AX, value)
        flags = self.machine.reg_read(UC_X86_REG_EFLAGS)
        self.machine.reg_write(UC_X86_REG_EFLAGS, flags | 1 if failed else flags & ~1)

    def system(self, ax):
        at = self.machine.reg_read(UC_X86_REG_DS) * 16 + self.machine.reg_read(UC_X86_REG_DX)
        service = ax >> 8
        if service == 0x3D:
            self.answer(2, failed=True)
        elif service == 0x3C:
            self.name = bytes(self.machine.mem_read(at, 16)).split(b"\0")[0].decode()
            self.answer(5)
        elif service == 0x40:
            assert self.machine.reg_read(UC_X86_REG_BX) == 5
            count = self.machine.reg_read(UC_X86_REG_CX)
            self.text += bytes(self.machine.mem_read(at, count))
            self.answer(count)
        elif service == 0x3E:
            self.answer(0)
        elif service == 0x4C:
            self.machine.emu_stop()
