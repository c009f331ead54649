"""Fits the network that times attacks to the close looks that fit-timing.ts has kept.

    python3 teach-timing.py FOLDER timing-weights.ts

Needs numpy. Seeded.
"""

import base64
import json
import os
import sys
import time

import numpy as np

BATCH = 512
EPOCHS = 6
HIDDEN = [64, 32]
RATE = 2e-3
DECAY = 1e-2
SHARPNESS = 0.7  # ms: spread of the wanted answer about the true moment

chance = np.random.default_rng(0)


def wanted(offsets, first, count):
    """For each look a distribution over milliseconds, and last whether there is no attack at all."""
    out = np.zeros((len(offsets), count + 1), "f4")
    at = np.arange(first, first + count)
    for row, offset in zip(out, offsets):
        if offset is None:
            row[count] = 1
        else:
            row[:count] = np.exp(-0.5 * ((at - offset) / SHARPNESS) ** 2)
            row /= row.sum()
    return out


def train(looks, answers, likely, steps_of_levels):
    levels = looks.shape[1] - likely
    read = lambda rows: looks[rows].astype("f4") / np.float32(steps_of_levels)
    sample = read(chance.integers(len(looks), size=8000))
    mean, spread = sample.mean(0), sample.std(0) + np.float32(0.05)
    sizes = [looks.shape[1], *HIDDEN, answers.shape[1]]
    p = [
        (chance.standard_normal((a, b)) * np.sqrt(2 / a)).astype("f4")
        for a, b in zip(sizes, sizes[1:])
    ] + [np.zeros(b, "f4") for b in sizes[1:]]
    first = [np.zeros_like(a) for a in p]
    second = [np.zeros_like(a) for a in p]
    per_epoch = len(looks) // BATCH
    step = 0
    for epoch in range(EPOCHS):
        order = chance.permutation(len(looks))
        total = 0.0
        for k in range(0, per_epoch * BATCH, BATCH):
            rows = order[k : k + BATCH]
            x = read(rows)
            # Softer and louder takes: all levels moved by up to two doublings.
            gain = chance.standard_normal((BATCH, 1)).clip(-2, 2).astype("f4")
            x[:, :levels] = np.log2(1 + (np.exp2(x[:, :levels]) - 1) * np.exp2(gain))
            x = (x - mean) / spread
            y = answers[rows]
            w1, w2, w3, b1, b2, b3 = p
            a = np.maximum(x @ w1 + b1, 0)
            b = np.maximum(a @ w2 + b2, 0)
            z = b @ w3 + b3
            guess = np.exp(z - z.max(1, keepdims=True))
            guess /= guess.sum(1, keepdims=True)
            total -= float((y * np.log(guess + 1e-9)).sum())
            d3 = (guess - y) / BATCH
            d2 = (d3 @ w3.T) * (b > 0)
            d1 = (d2 @ w2.T) * (a > 0)
            gradients = [x.T @ d1, a.T @ d2, b.T @ d3, d1.sum(0), d2.sum(0), d3.sum(0)]
            step += 1
            rate = RATE * 0.5 * (1 + np.cos(np.pi * step / (EPOCHS * per_epoch)))
            scale = rate * np.sqrt(1 - 0.999**step) / (1 - 0.9**step)
            for i, g in enumerate(gradients):
                first[i] += np.float32(0.1) * (g - first[i])
                second[i] += np.float32(0.001) * (g * g - second[i])
                p[i] -= (scale * first[i] / (np.sqrt(second[i]) + 1e-8)).astype("f4")
                if i < 3:
                    p[i] *= np.float32(1 - rate * DECAY)
        print(f"epoch {epoch + 1}: {total / (per_epoch * BATCH):.4f}", flush=True)
    return p, mean, spread


def write(path, parameters, mean, spread, likely, first_offset):
    """Mean and spread go into the first layer, whose weights become bytes, with two steps for each unit.

    Likelihoods spread far less than levels, so their weights are far larger: they have steps of their own.
    """
    w1, w2, w3, b1, b2, b3 = parameters
    w1 = w1.T / spread
    levels = w1.shape[1] - likely
    steps = np.stack([np.abs(w1[:, :levels]).max(1), np.abs(w1[:, levels:]).max(1)]) / 127
    step = np.repeat(steps, [levels, likely], 0).T
    whole = np.round(w1 / step).astype("i1")
    b1 = b1 - (whole * step) @ mean
    numbers = lambda a: "[" + ", ".join(f"{v:.4g}" for v in np.ravel(a)) + "]"
    text = base64.b64encode(whole.tobytes()).decode()
    with open(path, "w") as out:
        out.write(f"""// Written by tests/bench/fit-timing.ts; not for editing.

/** The first answer stands for an attack so many milliseconds after the moment looked at, the last but one for the last. */
export const FIRST_OFFSET = {first_offset};
/** Size of one step of each first-layer unit's weights: of those of levels, and of likelihoods. */
export const STEPS = {numbers(steps[0])};
export const LIKELY_STEPS = {numbers(steps[1])};
export const FIRST_BIASES = {numbers(b1)};
export const SECOND = {numbers(w2.T)};
export const SECOND_BIASES = {numbers(b2)};
export const THIRD = {numbers(w3.T)};
export const THIRD_BIASES = {numbers(b3)};
/** First-layer weights, signed bytes in base 64, a row of them for each unit. */
export const FIRST =
  '{text}';
""")


def main():
    folder, target = sys.argv[1:]
    with open(os.path.join(folder, "timing.json")) as file:
        kept = json.load(file)
    looks = np.fromfile(os.path.join(folder, "timing.levels"), "<i2").reshape(-1, kept["features"])
    started = time.time()
    answers = wanted(kept["offsets"], kept["first"], kept["count"])
    print(f"{len(looks)} looks", flush=True)
    fitted = train(looks, answers, kept["likely"], kept["steps"])
    write(target, *fitted, kept["likely"], kept["first"])
    print(f"{time.time() - started:.0f} s", flush=True)


main()
