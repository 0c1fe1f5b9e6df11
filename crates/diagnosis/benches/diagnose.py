"""The diagnosis's enumeration written with NumPy, over whole address arrays.

The benchmark `cargo bench -p backporch-diagnosis` hands in a JSON file: members
of address faults, setups (start address, bytes a line), and sightings. For each
member and setup this script makes the array of all fetched addresses, lines by
bytes, and holds it against the healthy one; the likelihoods are those of the
guide's tables. It prints the seconds it took and a log-likelihood a member.

    python3 crates/diagnosis/benches/diagnose.py TASK.json
"""

import json
import math
import sys
import time

import numpy as np

MASK = 0xFFFF
LINES = 200


def healthy(start, width):
    """Linear address of every byte: lines down, bytes across."""
    return (start * 2 + np.arange(LINES)[:, None] * width + np.arange(width)[None, :]) & MASK


def row_reload(linear, row_bytes, reloads):
    """Past the last reload the column keeps counting within the old row."""
    width = linear.shape[1]
    along = linear[:, :1] % row_bytes + np.arange(width)[None, :]
    lost = np.maximum(along // row_bytes - reloads, 0)
    return linear - lost * row_bytes


def swap_bits(linear, one, other):
    """Two address bits exchanged."""
    differ = (linear >> one ^ linear >> other) & 1
    return linear ^ (differ << one | differ << other)


def bend(kind, values, linear):
    """Where a member of a family fetches every byte from."""
    width = linear.shape[1]
    rows = np.arange(LINES)[:, None]
    if kind == "rows":
        return row_reload(linear, values["row_bytes"], values["reloads"])
    if kind == "wrap":
        return linear % values["bytes"]
    if kind == "bit-low":
        return linear & ~values["bits"]
    if kind == "bits-swapped":
        return swap_bits(linear, values["one"], values["other"])
    if kind == "pitch-rounded":
        return linear - rows * (width % values["to"])
    if kind == "pitch-off":
        return linear + rows * values["bytes"]
    if kind == "group-moved":
        return linear + (rows // values["lines"] % 2) * values["bytes"]
    raise ValueError(kind)


def ramp(value, low, high):
    """0 up to low, 1 from high on, straight between."""
    return min(max((value - low) / (high - low), 0.0), 1.0)


def every(bad, period):
    """How far every period-th line, and no other, is bad."""
    best = 0.0
    for line in np.flatnonzero(bad)[:period]:
        pattern = np.arange(LINES) % period == line % period
        either = np.count_nonzero(bad | pattern)
        best = max(best, np.count_nonzero(bad & pattern) / either)
    return 1.0 if best >= 1.0 else 0.8 * ramp(best, 0.5, 1.0)


def counted(bad):
    """Whether the bad lines follow a pattern close enough that one counts it."""
    lines = np.flatnonzero(bad)
    if lines.size < 2:
        return False
    first, period = lines[0], lines[1] - lines[0]
    follows = period * 3 <= LINES and first < period and np.array_equal(lines, np.arange(first, LINES, period))
    return bool(follows and period <= 10)


def grade(word, outcome):
    """How far a word is true of a frame."""
    bad, first, last, width = outcome
    count = np.count_nonzero(bad)
    if count == 0:
        return 1.0 if word[0] == "clean" else 0.0
    extent = count / LINES * (last - first + 1) / width
    overlooked = 0.7 * (1.0 - ramp(extent, 0.0005, 0.003))
    if word[0] == "clean":
        return overlooked
    if word[0] == "damaged":
        return 1.0 - overlooked
    if word[0] == "every":
        return every(bad, word[1])
    if word[0] == "right":
        return ramp(first / width, 0.3, 0.48) * (1.0 - 0.4 * ramp(first / width, 0.75, 0.88))
    if word[0] == "few":
        return (0.6 if counted(bad) else 1.0) * (1.0 - ramp(count / LINES, 0.1, 0.2))
    raise ValueError(word)


CHANCE = {"clean": 1 / 4, "damaged": 1 / 2, "every": 1 / 10, "right": 1 / 3, "few": 1 / 6}


def outcome_of(kind, values, base, width):
    """Bad lines and columns of one frame."""
    wrong = (bend(kind, values, base) & MASK) != base
    bad = wrong.any(axis=1)
    columns = np.flatnonzero(wrong.any(axis=0))
    if columns.size == 0:
        return bad, 0, 0, width
    return bad, int(columns[0]), int(columns[-1]), width


def judge(member, bases, sightings, errors):
    """Log-likelihood of all sightings under one member."""
    outcomes = [outcome_of(member["kind"], member["values"], base, base.shape[1]) for base in bases]
    total = 0.0
    for sighting in sightings:
        chance = max(math.prod(CHANCE[word[0]] for word in sighting["words"]), 1e-5)
        logs = 0.0
        for setup in sighting["setups"]:
            true = math.prod(grade(word, outcomes[setup]) for word in sighting["words"])
            logs += math.log((1.0 - errors) * true + errors * chance)
        total += logs / len(sighting["setups"]) * (1.0 + math.log2(sighting["count"]))
    return total


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        task = json.load(file)
    bases = [healthy(setup["start"], setup["bytes"]) for setup in task["setups"]]
    began = time.perf_counter()
    logs = [judge(member, bases, task["sightings"], task["errors"]) for member in task["members"]]
    seconds = time.perf_counter() - began
    json.dump({"seconds": seconds, "logs": logs}, sys.stdout)


if __name__ == "__main__":
    main()
