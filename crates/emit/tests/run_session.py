"""Runs a test session on a processor of another make, with keys, and writes the answers that it writes.

Usage: run_session.py PROGRAM KEYS ANSWERS-OUT

KEYS are words of function 00h of interrupt 16h in hexadecimal, separated by commas.
"""

import sys

from real_mode import WithFiles

LIMIT = 400_000_000


session = WithFiles(sys.argv[1], [int(key, 16) for key in sys.argv[2].split(",")])
session.run(LIMIT)
with open(sys.argv[3], "wb") as file:
    file.write(session.text)
print("file:", session.name)
session.tell()
