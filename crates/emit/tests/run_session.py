"""Runs a test session on a processor of another make, with keys, and writes the answers that it writes.

Usage: run_session.py PROGRAM KEYS ANSWERS-OUT

KEYS are words of function 00h of interrupt 16h in hexadecimal, separated by commas.
"""

import sys

from real_mode import SEGMENT, RealMode
from unicorn.x86_const import UC_X86_REG_AX, UC_X86_REG_BX, UC_X86_REG_CX, UC_X86_REG_DS, UC_X86_REG_DX, UC_X86_REG_EFLAGS

LIMIT = 400_000_000


class Answering(RealMode):
    """With the file functions that a session uses; no name is taken, one file is written."""

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


session = Answering(sys.argv[1], [int(key, 16) for key in sys.argv[2].split(",")])
session.run(LIMIT)
with open(sys.argv[3], "wb") as file:
    file.write(session.text)
print("file:", session.name)
session.tell()
