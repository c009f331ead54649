"""Teaches a network where beats lie that no onset carries, from what fit-silent-beats.ts has kept.

    python3 teach_places.py FOLDER NAME

Reads NAME.json, NAME.inputs and NAME.wanted; writes NAME.net.json. Needs numpy. Seeded.

What is made small is the share of beats that are wrong, its edge at 40 ms made soft so that it has a slope,
and a little of the distance itself.
"""

import json
import os
import sys

import numpy as np

from teach import Descent, Net, evened, sigmoid

RIGHT = 0.04
SOFT = 0.012
FAR = 0.5


def main():
    folder, name = sys.argv[1:]
    path = lambda end: os.path.join(folder, f"{name}.{end}")
    with open(path("json")) as file:
        layout = json.load(file)
    x, mean, spread = evened(np.fromfile(path("inputs"), "<f4").reshape(-1, layout["inputs"]))
    wanted, length, apart = np.fromfile(path("wanted"), "<f4").reshape(-1, 3).T
    unit, batch = layout["unit"], layout["batch"]

    def taught(rows):
        net = Net(layout)
        # All beats are even at first.
        net.weights[-1] *= np.float32(0.03)
        descent = Descent(net, layout["epochs"] * (len(rows) // batch))
        for epoch in range(layout["epochs"]):
            order = net.chance.permutation(rows)
            for k in range(0, len(order) - batch + 1, batch):
                some = order[k : k + batch]
                outs = net.forward(x[some], layout["drop"])
                off = (unit * outs[-1][:, 0] - wanted[some]) * length[some]
                wrong = sigmoid((np.abs(off) - RIGHT) / SOFT)
                slope = wrong * (1 - wrong) / SOFT + FAR
                descent.step(outs, slope * np.sign(off) * length[some] * unit / batch)
        return net

    def right(net, rows):
        moved = unit * net.odds(x[rows]) if net else 0
        return np.mean(np.abs(moved - wanted[rows]) * length[rows] < RIGHT)

    rest, kept = (np.flatnonzero(apart == one) for one in (0, 1))
    net = taught(rest)
    print(f"{name}: {len(x)} beats; kept apart {right(None, kept):.3f} are right, {right(net, kept):.3f} taught")
    net = taught(np.arange(len(x)))
    net.write(path("net.json"), mean, spread)


main()
