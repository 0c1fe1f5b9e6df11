#!/usr/bin/env python3
"""Recordings, decoded by others: Pillow and ffmpeg must see the frames and times that the board has.

The frames are held against the folder of PNG frames that the same command writes, the times against its table and
against the rate that `signal` gives. Needs Pillow, and ffmpeg and ffprobe on the path.

    tests/recordings/check.py path/to/backporch
"""

import csv
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image

PROGRAM = str(Path(sys.argv[1]).resolve())
ROWS = str(Path(__file__).resolve().parent.parent / "benches" / "harbour-rows.bench.ron")


def run(*arguments, here):
    done = subprocess.run([PROGRAM, *arguments], cwd=here, capture_output=True, text=True, check=False)
    assert done.returncode in (0, 1), f"{arguments}: {done.stderr}"
    return done.stdout


def answer(*arguments, here):
    return json.loads(run(*arguments, "--format", "json", here=here))


def pillow(path):
    """Frames as Pillow shows them, with the milliseconds of each."""
    with Image.open(path) as image:
        for at in range(image.n_frames):
            image.seek(at)
            yield image.convert("RGB").tobytes(), image.info["duration"]


def ffmpeg(path, size):
    """Frames as ffmpeg shows them."""
    command = ["ffmpeg", "-v", "error", "-i", path, "-fps_mode", "passthrough"]
    command += ["-f", "rawvideo", "-pix_fmt", "rgb24", "-"]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as decoder:
        while frame := decoder.stdout.read(size[0] * size[1] * 3):
            yield frame
    assert decoder.returncode == 0, f"ffmpeg cannot read {path}"


def ffmpeg_times(path):
    """Seconds at which each frame starts, and how long it lasts, by ffprobe."""
    command = ["ffprobe", "-v", "error", "-select_streams", "v", "-show_entries", "packet=pts_time,duration_time"]
    summary = subprocess.run([*command, "-of", "json", path], capture_output=True, text=True, check=True).stdout
    packets = json.loads(summary)["packets"]
    return [(float(packet["pts_time"]), float(packet["duration_time"])) for packet in packets]


def folder(path):
    """The frames of a folder of PNG frames, and its table."""
    with open(path / "frames.csv", newline="", encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    frames = []
    for row in rows:
        with Image.open(path / row["file"]) as image:
            frames.append(image.convert("RGB").tobytes())
    shown = [file for file in path.iterdir() if file.name != '.backporch-made']
    assert len(shown) == len(rows) + 1, "files that the table does not name"
    return frames, rows


def check_apng(here, options):
    run("record", *options, "--out", "frames", here=here)
    frames, rows = folder(here / "frames")
    summary = answer("record", *options, "--out", "run.apng", here=here)
    size = (summary["width"], summary["height"])
    seen = list(pillow(here / "run.apng"))
    assert [frame for frame, _ in seen] == frames, "Pillow sees other frames in the APNG"
    for (_, lasts), row in zip(seen, rows, strict=True):
        assert abs(lasts / 1000 - float(row["lasts_s"])) < 2e-6, "Pillow sees another time in the APNG"
    assert list(ffmpeg(here / "run.apng", size)) == frames, "ffmpeg sees other frames in the APNG"
    for (starts, _), row in zip(ffmpeg_times(here / "run.apng"), rows, strict=True):
        # ffmpeg counts APNG time in 1/100,000 s a frame.
        assert abs(starts - float(row["starts_s"])) < 1e-5 * (len(rows) + 1), "ffmpeg sees another time in the APNG"
    assert summary["shown"] == summary["frames"] == len(frames)
    return summary, frames, rows


def check_gif(here, options, frames, rows):
    """A GIF has frames of the recording in order, none for less than 0.02 s, and the same time in all."""
    summary = answer("record", *options, "--out", "run.gif", here=here)
    size = (summary["width"], summary["height"])
    assert summary["colours_lost"] == 0, "this check needs a recording that fits 256 colours"
    seen = list(pillow(here / "run.gif"))
    assert len(seen) == summary["shown"]
    assert list(ffmpeg(here / "run.gif", size)) == [frame for frame, _ in seen], "Pillow and ffmpeg differ on the GIF"
    rest = iter(frames)
    assert all(any(frame == shown for frame in rest) for shown, _ in seen), "the GIF shows what the board did not"
    assert min(lasts for _, lasts in seen) >= 20, "shorter than viewers take"
    lasts = sum(lasts for _, lasts in seen) / 1000
    true = float(rows[-1]["starts_s"]) + float(rows[-1]["lasts_s"])
    assert abs(lasts - true) <= 0.005 + 1e-9, f"the GIF lasts {lasts} s, the run {true} s"
    starts, length = ffmpeg_times(here / "run.gif")[-1]
    assert abs(starts + length - lasts) < 1e-6, "ffmpeg sees another time in the GIF"
    return summary


def check_rate(here, summary, bench):
    rate = answer("signal", bench, here=here)["frame_rate_hz"]
    true = summary["frames"] / rate
    assert abs(summary["board_seconds"] - true) < 1e-6 * true, "the recording runs at another rate than the board"


def check_aspect(here):
    """A screen of 4 to 3 (common practice), whatever the mode's pixels."""
    for bench in ["harbour-256-plain", "harbour-cg"]:
        summary = answer("record", bench, "--frames", "1", "--out", "one.apng", here=here)
        assert summary["width"] * 3 == summary["height"] * 4, f"{bench}: {summary['width']} x {summary['height']}"
    # 32 of 40 characters are four fifths of the width (derived).
    summary = answer("record", "harbour-256-plain", "--set", "displayed=31", "--frames", "1", "--out", "one.apng", here=here)
    assert (summary["width"], summary["height"]) == (512, 480)


def check_long(here):
    """A thousand frames take no more memory than a hundred. Times are printed, not judged."""
    peak = {}
    for form in ["apng", "gif"]:
        for frames in [100, 1000]:
            before = time.monotonic()
            command = [PROGRAM, "record", ROWS, "--over", f"start_address=0..{frames}", "--quiet"]
            # A process of its own, so that its own peak is read.
            measure = "import resource, subprocess, sys; subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL); "
            measure += "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
            command = [sys.executable, "-c", measure, *command, "--out", f"long.{form}"]
            summary = subprocess.run(command, cwd=here, capture_output=True, text=True, check=True)
            peak[frames] = int(summary.stdout)
            took = time.monotonic() - before
            print(f"  {form}: {frames} frames in {took:.2f} s, {peak[frames] / 1024:.1f} MiB at most")
        assert peak[1000] < peak[100] * 1.25 + 4096, f"{form}: memory grows with the recording: {peak}"


def check_failure(here):
    """A recording that fails half way leaves the old one."""
    for name in ["kept.gif", "kept.apng"]:
        (here / name).write_bytes(b"good")
        # A file may not grow beyond 100,000 bytes: as on a full disk, writing fails in the midst of it.
        full = lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
        done = subprocess.run([PROGRAM, "record", "harbour-256-plain", "--over", "start_address=0..64", "--force", "--out", name],
                              cwd=here, capture_output=True, text=True, check=False,
                              preexec_fn=full, restore_signals=False)
        assert done.returncode == 3, f"{done.returncode}: {done.stderr}"
        assert (here / name).read_bytes() == b"good", f"{name} is not what it was"
    (here / "mine").mkdir()
    (here / "mine" / "letter.txt").write_text("dear")
    done = subprocess.run([PROGRAM, "record", "harbour-256-plain", "--frames", "2", "--out", "mine"],
                          cwd=here, capture_output=True, text=True, check=False)
    assert done.returncode == 2 and "letter.txt" in done.stderr, done.stderr
    assert not [path for path in here.iterdir() if path.name.startswith(".backporch")], "left behind"


def main():
    with tempfile.TemporaryDirectory() as folder_name:
        here = Path(folder_name)
        # Four colours and a caption, so that a GIF keeps every colour.
        for options in [
            ["harbour-cg", "--over", "start_address=0..40", "--caption"],
            ["harbour-cg", "--over", "start_address=0..24", "--hold", "2", "--slow", "3", "--square"],
        ]:
            summary, frames, rows = check_apng(here, options)
            check_rate(here, summary, "harbour-cg")
            gif = check_gif(here, options, frames, rows)
            print(f"  {' '.join(options)}: {summary['frames']} frames, {gif['shown']} in the GIF, {summary['seconds']:.3f} s")
        summary, _, _ = check_apng(here, [ROWS, "--over", "start_address=0..40", "--caption"])
        check_rate(here, summary, ROWS)
        check_aspect(here)
        check_failure(here)
        check_long(here)
    print("recordings: as recorded")


if __name__ == "__main__":
    main()
