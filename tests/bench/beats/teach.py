"""Fits a network for beats to the rows that fit-beat-nets.ts has kept.

    python3 teach.py FOLDER NAME

Reads NAME.json, NAME.inputs, NAME.wanted, NAME.worth and NAME.half, and NAME.start.json where a network is
to be taught further; writes NAME.net.json, and where
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
        self.chance = np.random.default_rng(layout.get("seed", 0))
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

    def write(self, path, mean, spread):
        layers = [
            {"weights": w.T.tolist(), "biases": b.tolist()}
            for w, b in zip(self.weights, self.biases)
        ]
        with open(path, "w") as file:
            json.dump({"mean": mean.tolist(), "spread": spread.tolist(), "layers": layers}, file)

    def train(self, x, wanted, worth):
        layout = self.layout
        batch = layout["batch"]
        descent = Descent(self, layout["epochs"] * (len(x) // batch))
        for epoch in range(layout["epochs"]):
            order = self.chance.permutation(len(x))
            for k in range(0, len(order) - batch + 1, batch):
                rows = order[k : k + batch]
                outs = self.forward(x[rows], layout["drop"])
                descent.step(outs, (sigmoid(outs[-1][:, 0]) - wanted[rows]) * worth[rows] / batch)


class Descent:
    """Adam (Kingma and Ba 2015) with decay of weights and drop-out, the rate falling as a cosine."""

    def __init__(self, net, steps):
        self.net = net
        self.steps = steps
        self.done = 0
        self.all = net.weights + net.biases
        self.first = [np.zeros_like(a) for a in self.all]
        self.second = [np.zeros_like(a) for a in self.all]

    def step(self, outs, slope):
        """One step, from what all layers gave and the loss's slope by the last one's."""
        weights = self.net.weights
        count = len(weights)
        g = slope[:, None].astype("f4")
        gradients = [None] * (2 * count)
        for l in range(count - 1, -1, -1):
            gradients[l] = outs[l].T @ g
            gradients[count + l] = g.sum(0)
            if l > 0:
                g = (g @ weights[l].T) * (outs[l] > 0)
        self.done += 1
        rate = self.net.layout.get("rate", RATE) * 0.5 * (1 + np.cos(np.pi * self.done / self.steps))
        scale = rate * np.sqrt(1 - 0.999**self.done) / (1 - 0.9**self.done)
        for i, gradient in enumerate(gradients):
            self.first[i] += np.float32(0.1) * (gradient - self.first[i])
            self.second[i] += np.float32(0.001) * (gradient * gradient - self.second[i])
            self.all[i] -= (scale * self.first[i] / (np.sqrt(self.second[i]) + 1e-8)).astype("f4")
            if i < count:
                self.all[i] *= np.float32(1 - rate * self.net.layout["decay"])


def evened(x, start=None):
    """Inputs with mean 0 and spread 1 (as they were for a network that is there), none too far out, and what was taken out."""
    mean = np.array(start["mean"], "f4") if start else x.mean(0)
    spread = np.array(start["spread"], "f4") if start else x.std(0) + np.float32(SMALLEST)
    return np.clip((x - mean) / spread, -FARTHEST, FARTHEST), mean, spread


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
    start = None
    if layout.get("further"):
        with open(path("start.json")) as file:
            start = json.load(file)
    x, mean, spread = evened(x, start)
    even = worth / worth.mean()

    def taught(rows):
        net = Net(layout)
        if start:
            net.weights = [np.array(layer["weights"], "f4").T for layer in start["layers"]]
            net.biases = [np.array(layer["biases"], "f4") for layer in start["layers"]]
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
    net.write(path("net.json"), mean, spread)


if __name__ == "__main__":
    main()
