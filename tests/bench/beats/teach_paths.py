"""Teaches a network to judge steps of paths, from the lattices that fit-next-beat.ts has kept.

    python3 teach_paths.py FOLDER NAME

Reads NAME.json, NAME.inputs and NAME.lattices, and NAME.start.json where a network is to be taught further;
writes NAME.net.json. Needs numpy and a C compiler (cc), for
paths.c. Seeded; fastest with OPENBLAS_NUM_THREADS=1 where others work on the machine.

Each lattice holds all ways to go on from a last confirmed beat. A path is as likely as the exponential of
its worth: that of its steps, what the network adds to it, and what moves of tempo cost (a conditional random field,
Lafferty et al. 2001, ICML). What is made as great as can be is the expected number of beats up to the first
wrong one: one who corrects from left to right goes as far before the next correction.

A lattice is kept as 32-bit floats: number of steps, number of places where a path may end, log of the interval
before, freedom and leap of the tempo, whether it is kept apart; the ends; then of each step: from, to, worth, log of its
beats' length, and how many beats are wrong in it (-1 where it is wrong as such).
"""

import ctypes
import json
import os
import subprocess
import sys

import numpy as np

from teach import FARTHEST, SMALLEST, Descent, Net

# Worths count by this much: best paths are less sure than the sums of their parts say.
SURE = 0.4
BATCH = 16
BLOCK = 100_000
# Numbers that a network did not know count so little when it is taught further.
LITTLE = 0.02


def compiled(folder):
    source = os.path.join(os.path.dirname(os.path.abspath(__file__)), "paths.c")
    target = os.path.join(folder, "paths.so")
    subprocess.run(["cc", "-O3", "-shared", "-fPIC", "-o", target, source, "-lm"], check=True)
    own = ctypes.CDLL(target).right_for
    array = lambda kind: np.ctypeslib.ndpointer(kind, flags="C")
    number = ctypes.c_float
    places = [array(np.int32), array(np.int32), array(np.float32), array(np.uint8), array(np.uint8)]
    own.restype = ctypes.c_double
    own.argtypes = [ctypes.c_int, ctypes.c_int, *places, array(np.float64), *[number] * 4, array(np.float64)]
    return own


class Lattice:
    def __init__(self, head, ends, steps, at):
        self.first, self.freedom, self.leap = map(float, head[2:5])
        self.apart = head[5] == 1
        self.rows = slice(at, at + len(steps))
        self.start, self.to = (steps[:, c].astype(np.int32) for c in (0, 1))
        self.worth = SURE * steps[:, 2].astype("f8")
        self.log = np.ascontiguousarray(steps[:, 3])
        self.right = (steps[:, 4] == 0).astype(np.uint8)
        self.ends = np.zeros(int(self.to.max()) + 1, np.uint8)
        self.ends[ends[ends < len(self.ends)]] = 1

    def right_for(self, own, added):
        """The expected number of beats until one is wrong, and its slope by what is added to each step."""
        slope = np.empty(len(added))
        tempo = (self.first, self.freedom, self.leap, SURE)
        steps = (self.start, self.to, self.log, self.right)
        sizes = (len(added), len(self.ends))
        return own(*sizes, *steps, self.ends, self.worth + added, *tempo, slope), slope


def lattices_in(path):
    kept = np.fromfile(path, "<f4")
    lattices = []
    at = k = 0
    while k < len(kept):
        count, ends = int(kept[k]), int(kept[k + 1])
        head = kept[k : k + 6]
        k += 6 + ends
        steps = kept[k : k + 5 * count].reshape(count, 5)
        lattices.append(Lattice(head, kept[k - ends : k].astype(int), steps, at))
        k += 5 * count
        at += count
    return lattices


def evened(x, start):
    """As `evened` of teach.py, in half the room; what a network knows already is evened as it was for that one."""
    n = len(x)
    blocks = range(0, n, BLOCK)
    mean = (sum(x[k : k + BLOCK].astype("f8").sum(0) for k in blocks) / n).astype("f4")
    square = sum(((x[k : k + BLOCK] - mean).astype("f8") ** 2).sum(0) for k in blocks) / n
    spread = (np.sqrt(square) + SMALLEST).astype("f4")
    if start:
        mean[: len(start["mean"])] = start["mean"]
        spread[: len(start["spread"])] = start["spread"]
    out = np.empty(x.shape, "f2")
    for k in blocks:
        out[k : k + BLOCK] = np.clip((x[k : k + BLOCK] - mean) / spread, -FARTHEST, FARTHEST)
    return out, mean, spread


def go_on(net, start):
    """Gives a network the weights of one that knew the first of its inputs."""
    layers = start["layers"]
    first, *rest = [np.array(layer["weights"], "f4").T for layer in layers]
    new = net.chance.standard_normal((net.layout["inputs"] - len(first), first.shape[1]))
    net.weights = [np.concatenate([first, (LITTLE * new).astype("f4")]), *rest]
    net.biases = [np.array(layer["biases"], "f4") for layer in layers]


def side_by_side(nets):
    """Networks of one hidden layer as one that gives the mean of their odds."""
    whole = Net(nets[0].layout)
    whole.weights = [
        np.concatenate([net.weights[0] for net in nets], 1),
        np.concatenate([net.weights[1] for net in nets]) / np.float32(len(nets)),
    ]
    whole.biases = [
        np.concatenate([net.biases[0] for net in nets]),
        sum(net.biases[1] for net in nets) / np.float32(len(nets)),
    ]
    return whole


def main():
    folder, name = sys.argv[1:]
    path = lambda end: os.path.join(folder, f"{name}.{end}")
    own = compiled(folder)
    with open(path("json")) as file:
        layout = {**json.load(file), "bias": 0}
    start = None
    if layout["further"]:
        with open(path("start.json")) as file:
            start = json.load(file)
    most = SURE * layout["most"]
    x, mean, spread = evened(np.memmap(path("inputs"), "<f4", "r").reshape(-1, layout["inputs"]), start)
    lattices = lattices_in(path("lattices"))

    def added_by(net, one):
        return most * np.tanh(net.odds(x[one.rows].astype("f4")).astype("f8"))

    def score(net, some):
        added = lambda one: added_by(net, one) if net else np.zeros(len(one.worth))
        return np.mean([one.right_for(own, added(one))[0] for one in some])

    def taught(some, seed):
        net = Net({**layout, "seed": seed})
        if start:
            go_on(net, start)
        else:
            # Nothing is added at first.
            net.weights[-1] *= np.float32(0.03)
        descent = Descent(net, layout["epochs"] * (len(some) // BATCH))
        for epoch in range(layout["epochs"]):
            order = net.chance.permutation(len(some))
            for k in range(0, len(order) - BATCH + 1, BATCH):
                batch = [some[i] for i in order[k : k + BATCH]]
                rows = np.concatenate([x[one.rows] for one in batch]).astype("f4")
                outs = net.forward(rows, layout["drop"])
                bent = np.tanh(outs[-1][:, 0].astype("f8"))
                slope = np.zeros(len(bent))
                at = 0
                for one in batch:
                    own_rows = slice(at, at + len(one.worth))
                    slope[own_rows] = -one.right_for(own, most * bent[own_rows])[1]
                    at = own_rows.stop
                descent.step(outs, slope * most * (1 - bent**2) / BATCH)
        return net

    apart = [one for one in lattices if one.apart]
    rest = [one for one in lattices if not one.apart]
    print(f"{name}: {len(lattices)} lattices, {len(x)} steps", flush=True)
    net = side_by_side([taught(rest, seed) for seed in range(layout["nets"])])
    print(f"kept apart: {score(None, apart):.3f} beats right, {score(net, apart):.3f} taught", flush=True)
    net = side_by_side([taught(lattices, seed) for seed in range(layout["nets"])])
    print(f"all: {score(None, lattices):.3f} beats right, {score(net, lattices):.3f} taught", flush=True)
    net.write(path("net.json"), mean, spread)


main()
