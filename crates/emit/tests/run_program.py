"""Runs a test program on a processor of another make and tells what it did.

Usage: run_program.py PROGRAM WINDOW MEMORY-OUT

Keys: on, on, back, back, back, on, escape.
"""

import sys

from real_mode import RealMode

KEYS = [0x20, 0x20, 8, 8, 8, 0x20, 27]
LIMIT = 50_000_000


class Stepping(RealMode):
    def mode_is_set(self):
        # Text is restored at the end: memory is kept as it was before.
        if len(self.modes) > 1:
            with open(out, "wb") as file:
                file.write(bytes(self.machine.mem_read(window, 0x10000 if window == 0xA0000 else 0x4000)))


program, window, out = sys.argv[1], int(sys.argv[2]), sys.argv[3]
stepping = Stepping(program, KEYS)
stepping.run(LIMIT)
stepping.tell()
