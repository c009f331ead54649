"""Scores pairs of lists with mir_eval (MIT): reads JSON on stdin, writes JSON on stdout.

Used once for tests/data/mir-eval/pairs.json, and by the tests again wherever mir_eval is installed.
"""
import json
import sys
import warnings

import mir_eval
import numpy as np

warnings.simplefilter("ignore")


def boundaries(times):
    return np.array(list(zip(times[:-1], times[1:])))


def scores(pair):
    ref, est = np.array(pair["truth"]), np.array(pair["heard"])
    out = {
        "onset50": mir_eval.onset.f_measure(ref, est, window=0.05)[0],
        "onset10": mir_eval.onset.f_measure(ref, est, window=0.01)[0],
        "beat": mir_eval.beat.f_measure(ref, est),
        "beatTrimmed": mir_eval.beat.f_measure(
            mir_eval.beat.trim_beats(ref), mir_eval.beat.trim_beats(est)
        ),
        "cemgil": mir_eval.beat.cemgil(ref, est)[0],
        "cemgilBest": mir_eval.beat.cemgil(ref, est)[1],
        "pScore": mir_eval.beat.p_score(ref, est),
    }
    if len(ref) > 1 and len(est) > 1:
        for name, window in (("boundary05", 0.5), ("boundary3", 3)):
            out[name] = mir_eval.segment.detection(
                boundaries(ref), boundaries(est), window=window
            )[2]
    return out


given = json.load(sys.stdin)
answer = {
    "version": mir_eval.__version__,
    "pairs": [scores(pair) for pair in given["pairs"]],
    "keys": [mir_eval.key.weighted_score(a, b) for a, b in given["keys"]],
}
json.dump(answer, sys.stdout)
