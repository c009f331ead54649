"""Teaches a network to judge steps of paths, from the lattices that fit-next-beat.ts has kept.

    python3 teach_paths.py FOLDER NAME

Reads NAME.json, NAME.inputs and NAME.lattices (a line of JSON each); writes NAME.net.json. Needs numpy. Seeded.

Each lattice holds all ways to go on from a last confirmed beat. A path is as likely as the exponential of
its worth: that of its steps, what the network adds to it, and what moves of tempo cost (a conditional random field,
Lafferty et al. 2001, ICML). What is made as great as can be is the expected number of beats up to the first
wrong one: one who corrects from left to right goes as far before the next correction.
"""

import json
import os
import sys

import numpy as np

from teach import Descent, Net, evened

# Worths count by this much: best paths are less sure than the sums of their parts say.
SURE = 0.4
BATCH = 16
NEVER = -1e9


def log_sum(x, axis):
    top = x.max(axis, keepdims=True)
    return (top + np.log(np.exp(x - top).sum(axis, keepdims=True))).squeeze(axis)


class Lattice:
    def __init__(self, line, at):
        self.name = line["name"]
        self.apart = line["half"] == 1
        self.rows = slice(at, at + len(line["from"]))
        self.worth = SURE * np.array(line["worth"])
        self.right = np.array(line["wrong"]) == 0
        start, to, log = np.array(line["from"]), np.array(line["to"]), np.array(line["log"])
        move = lambda a, b: -SURE * np.minimum(np.abs(a - b) / line["freedom"], line["leap"])
        self.first = move(line["before"], log)
        self.ends = np.isin(to, line["ends"])
        # At each place: the steps out of it, those into it, and moves of tempo from these to those.
        self.places = []
        for place in np.unique(start):
            out, into = np.flatnonzero(start == place), np.flatnonzero(to == place)
            self.places.append((out, into, move(log[into][:, None], log[out][None, :])))

    def right_for(self, added):
        """The expected number of beats until one is wrong, and its slope by what is added to each step."""
        worth = self.worth + added
        count = len(worth)
        before, right, after = (np.full(count, NEVER) for _ in range(3))
        for q, (out, into, move) in enumerate(self.places):
            if q == 0:
                before[out] = worth[out] + self.first[out]
                right[out] = np.where(self.right[out], before[out], NEVER)
            elif len(into):
                before[out] = worth[out] + log_sum(before[into][:, None] + move, 0)
                if self.right[into].any():
                    led = worth[out] + log_sum(right[into][:, None] + move, 0)
                    right[out] = np.where(self.right[out] & (led > 0.1 * NEVER), led, NEVER)
        after[self.ends] = 0
        for out, into, move in self.places[:0:-1]:
            if len(into):
                led = log_sum((after[out] + worth[out])[None, :] + move, 1)
                after[into] = np.where(self.ends[into], after[into], led)
        total = log_sum(before[self.ends], 0)
        through = np.exp(np.minimum(0, before + after - total))
        still = np.where(self.right, np.exp(np.minimum(0, right + after - total)), 0)
        # How much of what is still right at some step goes on to each later one, right or wrong, and what led to it.
        onward = np.zeros(count)
        led = still.copy()
        for out, into, move in self.places[1:]:
            if len(into):
                odds = (after[out] + worth[out])[None, :] + move - after[into][:, None]
                goes = (~self.ends[into] & (after[into] > 0.1 * NEVER))[:, None]
                share = np.exp(np.minimum(0, odds)) * goes
                onward[out] = ((onward[into] + still[into])[:, None] * share).sum(0)
        for out, into, move in self.places[:0:-1]:
            if len(into) and led[out].any():
                odds = right[into][:, None] + move + (worth[out] - right[out])[None, :]
                both = self.right[into][:, None] & self.right[out][None, :]
                led[into] += (np.exp(np.minimum(0, odds)) * both * led[out][None, :]).sum(1)
        expected = still.sum()
        return expected, led + onward - expected * through


def main():
    folder, name = sys.argv[1:]
    path = lambda end: os.path.join(folder, f"{name}.{end}")
    with open(path("json")) as file:
        layout = {**json.load(file), "bias": 0}
    most = SURE * layout["most"]
    x, mean, spread = evened(np.fromfile(path("inputs"), "<f4").reshape(-1, layout["inputs"]))
    lattices = []
    with open(path("lattices")) as file:
        for line in file:
            at = lattices[-1].rows.stop if lattices else 0
            lattices.append(Lattice(json.loads(line), at))

    def score(net, some):
        odds = net.odds(x) if net else np.zeros(len(x))
        return np.mean([one.right_for(most * np.tanh(odds[one.rows]))[0] for one in some])

    def taught(some):
        net = Net(layout)
        # Nothing is added at first.
        net.weights[-1] *= np.float32(0.03)
        descent = Descent(net, layout["epochs"] * (len(some) // BATCH))
        for epoch in range(layout["epochs"]):
            order = net.chance.permutation(len(some))
            for k in range(0, len(order) - BATCH + 1, BATCH):
                batch = [some[i] for i in order[k : k + BATCH]]
                outs = net.forward(np.concatenate([x[one.rows] for one in batch]), layout["drop"])
                bent = np.tanh(outs[-1][:, 0].astype("f8"))
                slope = np.zeros(len(bent))
                at = 0
                for one in batch:
                    rows = slice(at, at + len(one.worth))
                    slope[rows] = -one.right_for(most * bent[rows])[1]
                    at = rows.stop
                descent.step(outs, slope * most * (1 - bent**2) / BATCH)
        return net

    apart = [one for one in lattices if one.apart]
    rest = [one for one in lattices if not one.apart]
    print(f"{name}: {len(lattices)} lattices, {len(x)} steps", flush=True)
    net = taught(rest)
    print(f"kept apart: {score(None, apart):.3f} beats right, {score(net, apart):.3f} taught", flush=True)
    net = taught(lattices)
    print(f"all: {score(None, lattices):.3f} beats right, {score(net, lattices):.3f} taught", flush=True)
    net.write(path("net.json"), mean, spread)


main()
