"""Fits the ear's network to the lessons that fit-onsets.ts has kept.

    python3 teach.py FOLDER onset-weights.ts [again] [except=PATTERN]

Needs numpy. Seeded. `again` goes on from the weights in the file, at a tenth of the learning rate;
lessons whose names match `except` are left out, so that they can be scored fairly.
"""

import base64
import glob
import json
import os
import re
import sys
import time

import numpy as np

MERGE = 0.03  # attacks nearer than this are one
MARGIN = 16  # cells of silence before and after each lesson
BATCH = 1024
RATE = 3e-3
DECAY = 1e-4
LOOK_WEIGHT = 0.3

chance = np.random.default_rng(0)


def merged(attacks):
    kept = []
    for t in sorted(attacks):
        if not kept or t - kept[-1] >= MERGE:
            kept.append(t)
    return kept


class Lessons:
    """Levels of all lessons end to end, one array a view, and for each cell the wanted answer."""

    def __init__(self, paths, layout):
        self.layout = layout
        views = layout["views"]
        data = [[] for _ in views]
        rows = [0] * len(views)
        places, wanted, near = [], [], []
        self.onsets = 0
        for path in paths:
            with open(path) as file:
                lesson = json.load(file)
            n = lesson["cells"]
            raw = np.fromfile(path[:-7] + ".levels", "i2")
            at = 0
            starts = []
            for v, view in enumerate(views):
                count = n * view["perCell"] * view["bands"]
                gap = np.zeros((MARGIN * view["perCell"], view["bands"]), "i2")
                data[v] += [gap, raw[at : at + count].reshape(-1, view["bands"])]
                at += count
                starts.append(rows[v] + len(gap))
                rows[v] += len(gap) + n * view["perCell"]
            places.append(
                np.stack([np.arange(n) * v["perCell"] + s for v, s in zip(views, starts)], 1)
            )
            onsets = merged(lesson["attacks"])
            answer = self.answer(onsets, n)
            here = answer.max(1) > 0
            beside = here.copy()
            beside[1:] |= here[:-1]
            beside[:-1] |= here[1:]
            wanted.append(answer)
            near.append(beside)
            self.onsets += len(onsets)
        for v, view in enumerate(views):
            data[v].append(np.zeros((MARGIN * view["perCell"], view["bands"]), "i2"))
        self.data = [np.concatenate(d) for d in data]
        self.places = np.concatenate(places)
        self.wanted = np.concatenate(wanted)
        self.near = np.concatenate(near).astype("f4")
        self.offsets = [np.arange(v["frames"]) * v["step"] + v["from"] for v in views]

    def answer(self, onsets, cells):
        """Share of an onset in each part of each cell: it is split between the two nearest parts."""
        parts = self.layout["parts"]
        out = np.zeros(cells * parts + 2 * parts, "f4")
        for place in (np.array(onsets) / self.layout["cellSeconds"] + 0.5) * parts - 0.5:
            part = int(np.floor(place))
            if 0 <= part + parts < len(out) - 1:
                out[part + parts] += 1 - (place - part)
                out[part + parts + 1] += place - part
        return np.minimum(out[parts:-parts], 1).reshape(cells, parts)

    def features(self, cells):
        rows = self.places[cells]
        pieces = [
            d[rows[:, v, None] + o].reshape(len(rows), -1)
            for v, (d, o) in enumerate(zip(self.data, self.offsets))
        ]
        return np.concatenate(pieces, 1).astype("f4") / np.float32(self.layout["steps"])


def sigmoid(x):
    return 1 / (1 + np.exp(-x))


def train(lessons, layout, started_from):
    count = len(lessons.places)
    sample = lessons.features(chance.integers(count, size=20000))
    mean, spread = sample.mean(0), sample.std(0) + np.float32(0.05)
    width, (h1, h2), parts = len(mean), layout["hidden"], layout["parts"]
    if started_from:
        p = started_from(mean, spread)
    else:
        he = lambda a, b: (chance.standard_normal((a, b)) * np.sqrt(2 / a)).astype("f4")
        p = [he(width, h1), he(h1, h2), he(h2, parts)]
        p += [np.zeros(h1, "f4"), np.zeros(h2, "f4"), np.full(parts, -3, "f4")]
        p += [np.zeros(width, "f4"), np.full(1, -1, "f4")]
    first = [np.zeros_like(a) for a in p]
    second = [np.zeros_like(a) for a in p]
    steps = layout["epochs"] * (count // BATCH)
    step = 0
    for epoch in range(layout["epochs"]):
        order = chance.permutation(count)
        total = 0.0
        for k in range(0, count - BATCH + 1, BATCH):
            cells = order[k : k + BATCH]
            # Softer and louder takes: all levels moved by up to two doublings.
            gain = chance.standard_normal((BATCH, 1)).clip(-2, 2).astype("f4")
            x = np.log2(1 + (np.exp2(lessons.features(cells)) - 1) * np.exp2(gain))
            x = (x - mean) / spread
            y = lessons.wanted[cells]
            w1, w2, w3, b1, b2, b3, glance, glance_bias = p
            a = np.maximum(x @ w1 + b1, 0)
            b = np.maximum(a @ w2 + b2, 0)
            guess = sigmoid(b @ w3 + b3)
            total -= float((y * np.log(guess + 1e-7) + (1 - y) * np.log(1 - guess + 1e-7)).sum())
            d3 = (guess - y) / BATCH
            d2 = (d3 @ w3.T) * (b > 0)
            d1 = (d2 @ w2.T) * (a > 0)
            look = LOOK_WEIGHT * (sigmoid(x @ glance + glance_bias) - lessons.near[cells]) / BATCH
            gradients = [x.T @ d1, a.T @ d2, b.T @ d3, d1.sum(0), d2.sum(0), d3.sum(0)]
            gradients += [x.T @ look, look.sum(keepdims=True)]
            step += 1
            rate = RATE * (0.1 if started_from else 1) * 0.5 * (1 + np.cos(np.pi * step / steps))
            scale = rate * np.sqrt(1 - 0.999**step) / (1 - 0.9**step)
            for i, g in enumerate(gradients):
                first[i] += np.float32(0.1) * (g - first[i])
                second[i] += np.float32(0.001) * (g * g - second[i])
                p[i] -= (scale * first[i] / (np.sqrt(second[i]) + 1e-8)).astype("f4")
                p[i] *= np.float32(1 - rate * DECAY)
        print(f"epoch {epoch + 1}: {total / (count // BATCH * BATCH):.4f}", flush=True)
    return p, mean, spread


def read(path):
    """The weights in a file, for a sample's mean and spread."""
    with open(path) as file:
        text = file.read()
    numbers = lambda name: np.array(
        [float(v) for v in re.search(rf"\b{name}\b[^=]*= \[?([^;\]]*)", text)[1].split(",") if v.strip()],
        "f4",
    )
    h1, h2 = (int(v) for v in numbers("HIDDEN"))
    whole = np.frombuffer(base64.b64decode(re.search(r"FIRST =\s*'([^']*)'", text)[1]), "i1")
    w1 = whole.reshape(h1, -1) * numbers("STEPS")[:, None]

    def for_sample(mean, spread):
        glance = numbers("GLANCE")
        return [
            (w1 * spread).T.astype("f4").copy(),
            numbers("SECOND").reshape(h2, h1).T.copy(),
            numbers("THIRD").reshape(-1, h2).T.copy(),
            (numbers("FIRST_BIASES") + w1 @ mean).astype("f4"),
            numbers("SECOND_BIASES"),
            numbers("THIRD_BIASES"),
            (glance * spread).astype("f4"),
            (numbers("GLANCE_BIAS") + glance @ mean).astype("f4"),
        ]

    return for_sample, [h1, h2]


def write(path, parameters, mean, spread):
    """Mean and spread go into the first layer, whose weights become bytes with a step for each unit."""
    w1, w2, w3, b1, b2, b3, glance, glance_bias = parameters
    w1 = w1.T / spread
    step = np.abs(w1).max(1) / 127
    whole = np.round(w1 / step[:, None]).astype("i1")
    b1 = b1 - (whole * step[:, None]) @ mean
    glance = glance / spread
    numbers = lambda a: "[" + ", ".join(f"{v:.5g}" for v in np.ravel(a)) + "]"
    text = base64.b64encode(whole.tobytes()).decode()
    with open(path, "w") as out:
        out.write(f"""// Written by tests/bench/fit-onsets.ts; not for editing.

/** Units in the two hidden layers. */
export const HIDDEN: readonly [number, number] = [{w2.shape[0]}, {w2.shape[1]}];
/** Size of one step of each first-layer unit's weights. */
export const STEPS = {numbers(step)};
export const FIRST_BIASES = {numbers(b1)};
export const SECOND = {numbers(w2.T)};
export const SECOND_BIASES = {numbers(b2)};
export const THIRD = {numbers(w3.T)};
export const THIRD_BIASES = {numbers(b3)};
/** Whether a cell is worth a look: a weight for each feature. */
export const GLANCE = {numbers(glance)};
export const GLANCE_BIAS = {float(glance_bias[0] - (glance * mean).sum()):.6g};
/** First-layer weights, signed bytes in base 64, a row of them for each unit. */
export const FIRST =
  '{text}';
""")


def main():
    folder, target, *options = sys.argv[1:]
    with open(os.path.join(folder, "layout")) as file:
        layout = json.load(file)
    left_out = [o[7:] for o in options if o.startswith("except=")]
    paths = sorted(glob.glob(os.path.join(folder, "*.lesson")))
    paths = [p for p in paths if not any(re.search(x, os.path.basename(p)) for x in left_out)]
    started_from = None
    if "again" in options:
        started_from, layout["hidden"] = read(target)
    started = time.time()
    lessons = Lessons(paths, layout)
    print(f"{len(paths)} lessons, {lessons.onsets} onsets", flush=True)
    write(target, *train(lessons, layout, started_from))
    print(f"{time.time() - started:.0f} s", flush=True)


main()
