"""Runs a survey on a processor of another make, with keys, and writes the survey that it writes.

Usage: run_survey.py PROGRAM KEYS SURVEY-OUT

KEYS are words of function 00h of interrupt 16h in hexadecimal, separated by commas. The timer has gone on by the same
number of beats whenever it is latched: what is measured means nothing, the way through the program does.
"""

import sys

from real_mode import WithFiles

LIMIT = 400_000_000
BEATS = 7001


class Surveying(WithFiles):
    """With a timer."""

    def __init__(self, program, keys):
        super().__init__(program, keys)
        self.count, self.high = 0, False

    def _write(self, machine, port, size, value, _):
        super()._write(machine, port, size, value, _)
        if port == 0x43 and value & 0xF0 == 0:
            self.count, self.high = (self.count - BEATS) % 0x10000, False

    def _read(self, machine, port, size, _):
        if port == 0x40:
            self.high = not self.high
            return self.count & 0xFF if self.high else self.count >> 8
        if port == 0x41:
            return 18
        return super()._read(machine, port, size, _)


survey = Surveying(sys.argv[1], [int(key, 16) for key in sys.argv[2].split(",")])
survey.run(LIMIT)
with open(sys.argv[3], "wb") as file:
    file.write(survey.text)
print("file:", survey.name)
