#!/usr/bin/env python3
"""Photographs of a screen, made by a pipeline that shares nothing with the bench.

    make_photos.py FOLDER SEED FIRST COUNT
    make_photos.py photograph FRAME PHOTO SEED GRADE

The second way photographs a frame that is given, 320 x 200 pixels. For each number from FIRST on a photograph and what is true of it: a frame is fetched from 64 KiB of memory by a model
written here from the published rule (reverse-engineered schematic of display controller gate array 72X8300) or under a
fault, shown on a tube with scan lines and an aperture grille, and photographed: perspective, a bent tube and lens,
blur, uneven light, noise, JPEG. Everything comes from the seed. truth.json says what was done.
"""

import json
import sys
from pathlib import Path

import numpy as np
from PIL import Image

WIDTH, HEIGHT, BYTES = 320, 200, 65536
MARGIN = 20  # picture pixels of black border that the tube shows
FINE = 4  # texels to a picture pixel


def soft(random, shape, cells):
    """Smooth noise of that many cells, 0 to 1."""
    small = random.random(cells).astype(np.float32)
    image = Image.fromarray((small * 255).astype(np.uint8)).resize((shape[1], shape[0]), Image.BICUBIC)
    return np.asarray(image, dtype=np.float32) / 255


def art(random):
    """A panorama as palette entries, 320 bytes a line, and its palette."""
    rows = BYTES // WIDTH + 1
    scene = np.zeros((rows, WIDTH, 3), np.float32)
    sky = np.linspace(0.9, 0.3, rows, dtype=np.float32)[:, None]
    for channel, share in enumerate(random.uniform(0.3, 1.0, 3)):
        rough = soft(random, (rows, WIDTH), (6, 9)) * 0.6 + soft(random, (rows, WIDTH), (40, 64)) * 0.3
        scene[:, :, channel] = sky * share * 0.6 + rough * 0.5
    for _ in range(90):  # houses, masts, lamps
        x, y = int(random.integers(0, WIDTH)), int(random.integers(0, rows))
        w, h = int(random.integers(2, 34)), int(random.integers(2, 40))
        scene[y:y + h, x:x + w] = random.random(3)
        if h > 12 and w > 12:
            scene[y + 3:y + h - 3:5, x + 3:x + w - 3:4] = random.random(3)
    scene = np.clip(scene + random.normal(0, 0.015, scene.shape), 0, 1)
    levels = np.linspace(0, 1, 6)
    palette = np.array([[r, g, b] for r in levels for g in levels for b in levels] + [[k / 39] * 3 for k in range(40)])
    steps = np.clip(np.rint(scene * 5), 0, 5).astype(int)
    indices = (steps[:, :, 0] * 36 + steps[:, :, 1] * 6 + steps[:, :, 2]).astype(np.uint8)
    return indices.reshape(-1)[:BYTES].copy(), np.rint(palette * 255).astype(np.uint8)


def plain_addresses(start):
    x, y = np.arange(WIDTH), np.arange(HEIGHT)[:, None]
    return (2 * start + y * WIDTH + x) % BYTES


def by_design(start):
    """The row transfer that every board of the class makes: one more a line, of the row in which the line ends."""
    out = plain_addresses(start)
    for y in range(HEIGHT):
        base = (2 * start + y * WIDTH) % BYTES
        crossing = next((x for x in range(10, WIDTH) if (base + x) % 256 == 0), None)
        row = base >> 8
        for x in range(WIDTH):
            if crossing is not None and x >= crossing:
                row = ((base + 8 * 39) % BYTES) >> 8
            out[y, x] = row * 256 + (base + x) % 256
    return out


CLASSES = ["clean", "design", "bit", "later-line", "moved", "half", "colours", "noise", "all-lines", "band"]


def fetch(kind, random):
    """Addresses, whole-line displacements in half pixels, a change of colours a line, and the start address."""
    start = int(random.integers(0, 400))
    shift, tint = np.zeros(HEIGHT, int), np.zeros(HEIGHT, bool)
    addresses = plain_addresses(start)
    every, phase = int(random.integers(3, 9)), int(random.integers(0, 3))
    lines = np.arange(HEIGHT) % every == phase
    if kind == "design":
        start = int(random.choice([2, 4, 9, 16, 24, 31, 36, 50, 61]))
        addresses = by_design(start)
    elif kind == "bit":
        bit = 1 << int(random.integers(8, 13))
        addresses = addresses | bit if random.random() < 0.5 else addresses & ~bit
    elif kind == "later-line":
        addresses[lines] = (addresses[lines] + WIDTH * int(random.choice([-2, -1, 1, 2, 3]))) % BYTES
    elif kind == "moved":
        addresses[lines] = (addresses[lines] + int(random.choice([-64, -16, -8, -4, -2, 2, 4, 8, 16, 64]))) % BYTES
    elif kind == "all-lines":
        addresses[:, 8:] = (addresses[:, 8:] + 2 * WIDTH) % BYTES
    elif kind == "band":
        top = int(random.integers(20, 120))
        addresses[top:top + 50, 100:] = (addresses[top:top + 50, 100:] + 4096) % BYTES
    elif kind == "half":
        shift[lines] = int(random.choice([-4, -3, -2, 2, 3, 4]))
    elif kind == "colours":
        tint[lines] = True
    noise = lines if kind == "noise" else np.zeros(HEIGHT, bool)
    return addresses, shift, tint, noise, start


def shown(kind, memory, palette, random):
    addresses, shift, tint, noise, start = fetch(kind, random)
    values = memory[addresses]
    values[noise] = random.integers(0, 256, (int(noise.sum()), WIDTH))
    colours = palette[values].astype(np.float32)
    colours[tint] = colours[tint][:, :, [2, 1, 0]]
    twice = np.repeat(colours, 2, axis=1)
    for y in np.flatnonzero(shift):
        moved = np.zeros_like(twice[y])
        by = int(shift[y])
        if by > 0:
            moved[by:] = twice[y][:-by]
        else:
            moved[:by] = twice[y][-by:]
        twice[y] = moved
    plain = palette[memory[plain_addresses(start)]].astype(np.float32)
    return twice, plain, addresses, shift, tint, noise, start


def visible(twice, plain):
    """How far a line differs to the eye: numbers of a channel, summed over its pixels, after a blur of a pixel."""
    taps = np.array([1, 2, 3, 2, 1], np.float32) / 9
    apart = twice - np.repeat(plain, 2, axis=1)
    blurred = sum(weight * np.roll(apart, at - 2, axis=1) for at, weight in enumerate(taps))
    return np.abs(blurred).mean(axis=2).sum(axis=1) / 2


def linear(values):
    values = values / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4).astype(np.float32)


def coded(light):
    light = np.clip(light, 0, 1)
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


GRADES = {
    "easy": dict(tilt=4, turn=1.5, bend=0.02, blur=0.7, scan=0.3, grille=0.0, noise=2.0, vignette=0.15, veil=0.01, quality=92,
                 fill=(0.75, 0.9), pixels=(0.8, 1.5), band=0.0),
    "hard": dict(tilt=11, turn=4, bend=0.05, blur=1.4, scan=0.6, grille=0.35, noise=6.0, vignette=0.4, veil=0.04, quality=75,
                 fill=(0.6, 0.8), pixels=(0.8, 1.3), band=0.3),
}


def tube(twice, grade, random):
    """The face of the tube in light, with border, scan lines and grille."""
    light = linear(twice)
    fine = np.repeat(np.repeat(light, FINE // 2, axis=1), FINE, axis=0)
    beam = np.array([1, 2, 1], np.float32) / 4  # a spot is wider than a point
    fine = sum(weight * np.roll(fine, at - 1, axis=1) for at, weight in enumerate(beam))
    profile = 1 - grade["scan"] * np.array([0.9, 0.1, 0.9, 0.1], np.float32)
    fine *= np.tile(profile, HEIGHT)[:, None, None]
    face = np.full(((HEIGHT + 2 * MARGIN) * FINE, (WIDTH + 2 * MARGIN) * FINE, 3), 0.004, np.float32)
    face[MARGIN * FINE:-MARGIN * FINE, MARGIN * FINE:-MARGIN * FINE] += fine
    if grade["grille"]:
        pitch = random.uniform(0.6, 0.9) * FINE
        u = np.arange(face.shape[1])
        for channel in range(3):
            face[:, :, channel] *= 1 - grade["grille"] * (0.5 + 0.5 * np.cos(2 * np.pi * (u / pitch + channel / 3)))
    return face


class Camera:
    """From photograph pixels to places of the picture."""

    def __init__(self, grade, random):
        pixels = random.uniform(*grade["pixels"]) * 1e6
        self.height = int(np.sqrt(pixels / (4 / 3)))
        self.width = self.height * 4 // 3
        tilt = np.radians(random.uniform(-1, 1, 2) * grade["tilt"])
        turn = np.radians(random.uniform(-1, 1) * grade["turn"])
        self.lens, self.tube = random.uniform(-1, 1, 2) * grade["bend"]
        (cx, sx), (cy, sy), (cz, sz) = [(np.cos(a), np.sin(a)) for a in (tilt[0], tilt[1], turn)]
        rotate = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]]) @ np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
        rotate = rotate @ np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
        fill = random.uniform(*grade["fill"])
        away = 2.4  # screen half-widths times two, from the lens
        place = np.array([*random.uniform(-0.05, 0.05, 2), away])
        # Columns: where the screen's right, down and middle go.
        screen = np.stack([rotate[:, 0], rotate[:, 1], place], axis=1)
        self.from_camera = np.linalg.inv(screen)
        self.focus = fill * self.width * away / 2

    def to_picture(self, i, j):
        x, y = (i - self.width / 2) / self.focus, (j - self.height / 2) / self.focus
        bend = 1 + self.lens * 4 * (x * x + y * y)
        x, y = x * bend, y * bend
        m = self.from_camera
        depth = m[2, 0] * x + m[2, 1] * y + m[2, 2]
        right = (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / depth
        down = (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / depth
        bend = 1 + self.tube * (right * right + down * down)
        # The picture is as wide as two, and has the tube's 4 : 3.
        return WIDTH * (0.5 + right * bend / 2), HEIGHT * (0.5 + down * bend / 1.5)

    def from_picture(self, u, v):
        """Newton's way back."""
        at = np.array([self.width / 2, self.height / 2])
        for _ in range(12):
            here = np.array(self.to_picture(*at))
            slope = np.stack([(np.array(self.to_picture(*(at + d))) - here) / 0.01 for d in ([0.01, 0], [0, 0.01])], axis=1)
            at = at + np.linalg.solve(slope, np.array([u, v]) - here)
        return at.tolist()


def photograph(face, camera, grade, random):
    height, width = camera.height, camera.width
    room = soft(random, (height, width), (4, 5))[:, :, None] * random.uniform(0.02, 0.12, 3).astype(np.float32)
    total = np.zeros((height, width, 3), np.float32)
    for dj in (0.25, 0.75):
        for di in (0.25, 0.75):
            u, v = camera.to_picture(np.arange(width)[None, :] + di, np.arange(height)[:, None] + dj)
            tx, ty = np.floor((u + MARGIN) * FINE).astype(np.int32), np.floor((v + MARGIN) * FINE).astype(np.int32)
            on = (tx >= 0) & (ty >= 0) & (tx < face.shape[1]) & (ty < face.shape[0])
            bezel = (u > -70) & (v > -50) & (u < WIDTH + 70) & (v < HEIGHT + 50)
            sample = face[np.clip(ty, 0, face.shape[0] - 1), np.clip(tx, 0, face.shape[1] - 1)]
            total += np.where(on[:, :, None], sample, np.where(bezel[:, :, None], 0.012, room))
    light = total / 4
    sigma = grade["blur"]
    reach = int(np.ceil(3 * sigma))
    taps = np.exp(-np.arange(-reach, reach + 1) ** 2 / (2 * sigma * sigma)).astype(np.float32)
    taps /= taps.sum()
    for axis in (0, 1):
        light = sum(weight * np.roll(light, at - reach, axis=axis) for at, weight in enumerate(taps))
    x = np.linspace(-1, 1, width, dtype=np.float32)[None, :] - random.uniform(-0.3, 0.3)
    y = np.linspace(-1, 1, height, dtype=np.float32)[:, None] - random.uniform(-0.3, 0.3)
    light *= (1 - grade["vignette"] * (x * x + y * y) / 2)[:, :, None]
    light += (grade["veil"] * (0.6 + 0.4 * x + 0.3 * y))[:, :, None].clip(0)
    top = None
    if grade["band"]:  # an exposure shorter than a frame
        top = random.uniform(0.1, 0.6)
        rows = np.linspace(0, 1, height, dtype=np.float32)
        light *= (1 - grade["band"] / (1 + np.exp(-(rows - top) * 60)))[:, None, None]
    light *= random.uniform(0.85, 1.15, 3).astype(np.float32) * np.float32(random.uniform(0.9, 1.3))
    image = coded(light) + random.normal(0, grade["noise"], light.shape)
    return Image.fromarray(np.clip(np.rint(image), 0, 255).astype(np.uint8)), top


def line_truth(addresses, shift, tint, noise, start, twice, plain):
    due = plain_addresses(start)
    apart = visible(twice, plain)
    lines = []
    for y in range(HEIGHT):
        moved = (addresses[y] - due[y] + BYTES // 2) % BYTES - BYTES // 2
        kinds, counts = np.unique(moved[moved != 0], return_counts=True)
        what = "same"
        if shift[y]:
            what = "half"
        elif tint[y]:
            what = "colours"
        elif noise[y]:
            what = "noise"
        elif len(kinds):
            what = "moved"
        lines.append({"what": what, "moved": int(kinds[counts.argmax()]) if len(kinds) else 0,
                      "half_pixels": int(shift[y]), "visible": round(float(apart[y]), 1)})
    return lines


def one_photograph(frame, photo, seed, name):
    random, grade = np.random.default_rng(seed), GRADES[name]
    colours = np.asarray(Image.open(frame).convert("RGB"), np.float32)
    if colours.shape != (HEIGHT, WIDTH, 3):
        sys.exit(f"found {colours.shape}, allowed {WIDTH} x {HEIGHT} pixels")
    face = tube(np.repeat(colours, 2, axis=1), grade, random)
    photograph(face, Camera(grade, random), grade, random)[0].save(photo, quality=grade["quality"])


def main():
    if sys.argv[1] == "photograph":
        one_photograph(sys.argv[2], sys.argv[3], int(sys.argv[4]), sys.argv[5])
        return
    folder, seed, first, count = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
    folder.mkdir(parents=True, exist_ok=True)
    truths = []
    for number in range(first, first + count):
        random = np.random.default_rng([seed, number])
        grade_name = ["easy", "hard"][number % 2]
        grade = GRADES[grade_name]
        other = number % 6 == 5  # a picture of something else
        kind = "other" if other else CLASSES[(number + number // len(CLASSES)) % len(CLASSES)]
        memory, palette = art(random)
        twice, plain, addresses, shift, tint, noise, start = shown("clean" if other else kind, memory, palette, random)
        camera = Camera(grade, random)
        if other:
            another, colours = art(random)
            twice = shown("clean", another, colours, random)[0]
        image, band = photograph(tube(twice, grade, random), camera, grade, random)
        image.save(folder / f"{number}.jpg", quality=grade["quality"])
        Image.fromarray(palette[memory].reshape(256, 256, 3)).save(folder / f"{number}-memory.png")
        corners = [(u, v, *camera.from_picture(u, v)) for v in np.linspace(0, HEIGHT, 6) for u in np.linspace(0, WIDTH, 7)]
        truths.append({"number": number, "grade": grade_name, "kind": kind, "start": start,
                       "height": camera.height, "band_from": band,
                       "places": [[float(value) for value in place] for place in corners],
                       "lines": [] if other else line_truth(addresses, shift, tint, noise, start, twice, plain)})
    (folder / "truth.json").write_text(json.dumps(truths))


if __name__ == "__main__":
    main()
