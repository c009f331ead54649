"""Fits the ear's network to the lessons that fit-onsets.ts has played.

    python3 teach.py FOLDER onset-weights.ts

Needs numpy and PyTorch; seeded. `npm run bench hear` tells how well it went.
"""

import base64
import glob
import json
import os
import sys
import time

import numpy as np
import torch

MERGE = 0.03  # attacks nearer than this are one
MARGIN = 16  # cells of silence before and after each lesson
BATCH = 4096
RATE = 4e-3
LOOK_WEIGHT = 0.3

device = "cuda" if torch.cuda.is_available() else "cpu"
torch.backends.cuda.matmul.allow_tf32 = True
torch.manual_seed(0)


def merged(attacks):
    kept = []
    for t in sorted(attacks):
        if not kept or t - kept[-1] >= MERGE:
            kept.append(t)
    return kept


class Lessons:
    """Levels of all lessons end to end, one tensor a view, and for each cell the wanted answer."""

    def __init__(self, paths, layout):
        self.layout = layout
        views = layout["views"]
        data = [[] for _ in views]
        rows = [0] * len(views)
        places, wanted, near = [], [], []
        self.onsets, self.cells = [], []
        for path in paths:
            lesson = json.load(open(path))
            n = lesson["cells"]
            raw = np.fromfile(path[:-5] + ".levels", "i2")
            at = 0
            starts = []
            for v, view in enumerate(views):
                count = n * view["perCell"] * view["bands"]
                levels = (raw[at : at + count].astype("f4") / layout["steps"]).astype("f2")
                at += count
                gap = np.zeros((MARGIN * view["perCell"], view["bands"]), "f2")
                data[v] += [gap, levels.reshape(-1, view["bands"])]
                starts.append(rows[v] + len(gap))
                rows[v] += len(gap) + n * view["perCell"]
            places.append(
                np.stack([np.arange(n) * v["perCell"] + s for v, s in zip(views, starts)], 1)
            )
            onsets = merged(lesson["attacks"])
            answer = self.answer(onsets, n)
            wanted.append(answer)
            here = answer.max(1) > 0
            beside = here.copy()
            beside[1:] |= here[:-1]
            beside[:-1] |= here[1:]
            near.append(beside)
            self.onsets.append(onsets)
            self.cells.append(n)
        for v, view in enumerate(views):
            data[v].append(np.zeros((MARGIN * view["perCell"], view["bands"]), "f2"))
        self.data = [torch.from_numpy(np.concatenate(d)).to(device) for d in data]
        self.places = torch.from_numpy(np.concatenate(places)).to(device)
        self.wanted = torch.from_numpy(np.concatenate(wanted)).to(device)
        self.near = torch.from_numpy(np.concatenate(near)).float().to(device)
        self.offsets = [
            torch.arange(v["frames"], device=device) * v["step"] + v["from"] for v in views
        ]

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
        return torch.cat(
            [
                d[(rows[:, v, None] + o).reshape(-1)].reshape(len(rows), -1)
                for v, (d, o) in enumerate(zip(self.data, self.offsets))
            ],
            1,
        ).float()


def train(lessons, layout):
    count = len(lessons.places)
    sample = lessons.features(torch.randint(count, (20000,), device=device))
    mean, spread = sample.mean(0), sample.std(0) + 0.05
    h1, h2 = layout["hidden"]
    net = torch.nn.Sequential(
        torch.nn.Linear(len(mean), h1),
        torch.nn.ReLU(),
        torch.nn.Linear(h1, h2),
        torch.nn.ReLU(),
        torch.nn.Linear(h2, layout["parts"]),
    ).to(device)
    look = torch.nn.Linear(len(mean), 1).to(device)
    with torch.no_grad():
        net[-1].bias.fill_(-3)
    parameters = [*net.parameters(), *look.parameters()]
    optimiser = torch.optim.AdamW(parameters, lr=RATE, weight_decay=1e-4, betas=(0.9, 0.99))
    steps = layout["epochs"] * (count // BATCH)
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, RATE, total_steps=steps + 1, pct_start=0.1)
    entropy = torch.nn.functional.binary_cross_entropy_with_logits
    for epoch in range(layout["epochs"]):
        order = torch.randperm(count, device=device)
        total = torch.zeros((), device=device)
        for k in range(0, count - BATCH + 1, BATCH):
            cells = order[k : k + BATCH]
            x = lessons.features(cells)
            # Softer and louder takes: all levels moved by up to two doublings.
            gain = torch.randn(BATCH, 1, device=device).clamp(-2, 2)
            x = torch.log2(1 + (2**x - 1) * 2**gain)
            x = (x - mean) / spread
            loss = layout["parts"] * entropy(net(x), lessons.wanted[cells])
            loss = loss + LOOK_WEIGHT * entropy(look(x)[:, 0], lessons.near[cells])
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            optimiser.step()
            schedule.step()
            total += loss.detach()
        print(f"epoch {epoch + 1}: {float(total) / (count // BATCH):.4f}", flush=True)
    return net, look, mean, spread


def write(path, net, look, mean, spread):
    """Mean and spread go into the first layer, whose weights become bytes with a step for each unit."""
    mean, spread = mean.cpu().numpy(), spread.cpu().numpy()
    w1, w2, w3 = (net[i].weight.detach().cpu().numpy() for i in (0, 2, 4))
    b1, b2, b3 = (net[i].bias.detach().cpu().numpy() for i in (0, 2, 4))
    glance = look.weight.detach().cpu().numpy()[0] / spread
    glance_bias = float(look.bias.detach().cpu().numpy()[0] - (glance * mean).sum())
    w1 = w1 / spread
    step = np.abs(w1).max(1) / 127
    whole = np.round(w1 / step[:, None]).astype("i1")
    b1 = b1 - (whole * step[:, None]) @ mean
    numbers = lambda a: "[" + ", ".join(f"{v:.5g}" for v in np.ravel(a)) + "]"
    text = base64.b64encode(whole.tobytes()).decode()
    with open(path, "w") as out:
        out.write(f"""// Written by tests/bench/fit-onsets.ts; not for editing.

/** Units in the two hidden layers. */
export const HIDDEN: readonly [number, number] = [{w1.shape[0]}, {w2.shape[0]}];
/** Size of one step of each first-layer unit's weights. */
export const STEPS = {numbers(step)};
export const FIRST_BIASES = {numbers(b1)};
export const SECOND = {numbers(w2)};
export const SECOND_BIASES = {numbers(b2)};
export const THIRD = {numbers(w3)};
export const THIRD_BIASES = {numbers(b3)};
/** Whether a cell is worth a look: a weight for each feature. */
export const GLANCE = {numbers(glance)};
export const GLANCE_BIAS = {glance_bias:.6g};
/** First-layer weights, signed bytes in base 64, a row of them for each unit. */
export const FIRST =
  '{text}';
""")


def main():
    folder, target = sys.argv[1:3]
    layout = json.load(open(os.path.join(folder, "layout")))
    paths = sorted(glob.glob(os.path.join(folder, "[0-9]*.json")))
    started = time.time()
    lessons = Lessons(paths, layout)
    print(f"{len(paths)} lessons, {sum(map(len, lessons.onsets))} onsets", flush=True)
    write(target, *train(lessons, layout))
    print(f"{time.time() - started:.0f} s", flush=True)


main()
