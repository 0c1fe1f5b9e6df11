"""The workaround search in NumPy vectors: all widths, all start addresses, all steps and origins.

The fault is the row-crossing one: memory rows of 256 bytes, one reload of the row address a line, so a
line is damaged where it crosses a second row. For each width, all start addresses are one vector and the
lines of the frame are gone through one by one. Prints what it found and how long it took (median of
several rounds), for beside_numpy.sh to hold against the program's own search.
"""

import statistics
import time

import numpy as np

STARTS = np.arange(32768, dtype=np.int64)
LINES = 200
ROW = 256
LEAST, MOST = 1, 40


def clean_starts(chars):
    """Start addresses (words of 2 bytes) whose 200 lines are all fetched from the right places."""
    width = chars * 8
    bad = np.zeros(STARTS.shape, dtype=bool)
    for line in range(LINES):
        first = (STARTS * 2 + line * width) & 0xFFFF
        bad |= (first % ROW) + width > 2 * ROW
    return ~bad


def search():
    """Widths with the smallest step all of whose start addresses are clean, from some origin."""
    holding, best, counts = [], None, {}
    for chars in range(MOST, LEAST - 1, -1):
        clean = clean_starts(chars)
        counts[chars * 8] = int(clean.sum())
        step = 1
        while step * 2 <= chars * 8:
            classes = clean.reshape(-1, step).all(axis=0)
            if classes.any():
                if best is None or step < best:
                    holding.append((chars * 8, step * 2))
                    best = step
                break
            step *= 2
    return holding, counts


def main():
    holding, counts = search()
    for width, step in sorted(holding, key=lambda one: one[1]):
        print(f"holds {width} pixels by steps of {step} pixels")
    for width in (256, 264, 320):
        print(f"clean {width} {counts[width]}")
    rounds = []
    for _ in range(7):
        start = time.perf_counter()
        search()
        rounds.append(time.perf_counter() - start)
    print(f"  {'the same search in NumPy ' + np.__version__:44} {statistics.median(rounds) * 1e6:10.2f} us")


main()
