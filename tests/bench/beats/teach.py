"""Fits a network for beats to the rows that fit-beat-nets.ts has kept.

    python3 teach.py FOLDER NAME

Reads NAME.json, NAME.inputs, NAME.wanted, NAME.worth and NAME.half; writes NAME.net.json, and where
both halves are asked to judge each other NAME.crossed. Needs numpy. Seeded.
"""

import json
import os
import sys

import numpy as np

RATE = 2e-3
SMALLEST = 1e-3
FARTHEST = 5


def sigmoid(x):
    return 1 / (1 + np.exp(-x))


class Net:
    def __init__(self, layout):
        self.chance = np.random.default_rng(0)
        self.layout = layout
        sizes = [layout["inputs"], *layout["hidden"], 1]
        he = lambda a, b: (self.chance.standard_normal((a, b)) * np.sqrt(2 / a)).astype("f4")
        self.weights = [he(a, b) for a, b in zip(sizes, sizes[1:])]
        self.biases = [np.zeros(b, "f4") for b in sizes[1:]]
        self.biases[-1][:] = layout["bias"]

    def forward(self, x, drop=0):
        outs = [x]
        for l, (w, b) in enumerate(zip(self.weights, self.biases)):
            z = outs[-1] @ w + b
            if l + 1 < len(self.weights):
                z = np.maximum(z, 0)
                if drop > 0:
                    z = z * (self.chance.random(z.shape, dtype="f4") > drop) / np.float32(1 - drop)
            outs.append(z)
        return outs

    def odds(self, rows):
        blocks = range(0, len(rows), 20000)
        return np.concatenate([self.forward(rows[k : k + 20000])[-1][:, 0] for k in blocks])

    def train(self, x, wanted, worth):
        """Adam (Kingma and Ba 2015) with decay of weights and drop-out, the rate falling as a cosine."""
        layout = self.layout
        batch = layout["batch"]
        count = len(self.weights)
        p = self.weights + self.biases
        first = [np.zeros_like(a) for a in p]
        second = [np.zeros_like(a) for a in p]
        steps = layout["epochs"] * (len(x) // batch)
        step = 0
        for epoch in range(layout["epochs"]):
            order = self.chance.permutation(len(x))
            for k in range(0, len(order) - batch + 1, batch):
                rows = order[k : k + batch]
                outs = self.forward(x[rows], layout["drop"])
                g = ((sigmoid(outs[-1][:, 0]) - wanted[rows]) * worth[rows])[:, None] / batch
                gradients = [None] * (2 * count)
                for l in range(count - 1, -1, -1):
                    gradients[l] = outs[l].T @ g
                    gradients[count + l] = g.sum(0)
                    if l > 0:
                        g = (g @ self.weights[l].T) * (outs[l] > 0)
                step += 1
                rate = RATE * 0.5 * (1 + np.cos(np.pi * step / steps))
                scale = rate * np.sqrt(1 - 0.999**step) / (1 - 0.9**step)
                for i, gradient in enumerate(gradients):
                    first[i] += np.float32(0.1) * (gradient - first[i])
                    second[i] += np.float32(0.001) * (gradient * gradient - second[i])
                    p[i] -= (scale * first[i] / (np.sqrt(second[i]) + 1e-8)).astype("f4")
                    if i < count:
                        p[i] *= np.float32(1 - rate * layout["decay"])


def loss(odds, wanted, worth):
    return float((worth * (np.logaddexp(0, odds) - wanted * odds)).sum() / worth.sum())


def main():
    folder, name = sys.argv[1:]
    path = lambda end: os.path.join(folder, f"{name}.{end}")
    with open(path("json")) as file:
        layout = json.load(file)
    x = np.fromfile(path("inputs"), "<f4").reshape(-1, layout["inputs"])
    wanted = np.fromfile(path("wanted"), "u1").astype("f4")
    worth = np.fromfile(path("worth"), "<f4")
    half = np.fromfile(path("half"), "u1")
    mean = x.mean(0)
    spread = x.std(0) + np.float32(SMALLEST)
    x = np.clip((x - mean) / spread, -FARTHEST, FARTHEST)
    even = worth / worth.mean()

    def taught(rows):
        net = Net(layout)
        net.train(x[rows], wanted[rows], even[rows])
        return net

    if layout["crossed"]:
        crossed = np.zeros(len(x), "f4")
        for one in (0, 1):
            crossed[half != one] = taught(half == one).odds(x[half != one])
        print(f"{name}, each half judged by the other's: {loss(crossed, wanted, worth):.4f}", flush=True)
        crossed.tofile(path("crossed"))
    net = taught(np.ones(len(x), bool))
    print(f"{name}, all: {loss(net.odds(x), wanted, worth):.4f} over {len(x)} rows", flush=True)
    layers = [
        {"weights": w.T.tolist(), "biases": b.tolist()} for w, b in zip(net.weights, net.biases)
    ]
    with open(path("net.json"), "w") as file:
        json.dump({"mean": mean.tolist(), "spread": spread.tolist(), "layers": layers}, file)


main()
