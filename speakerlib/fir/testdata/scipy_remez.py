"""Writes scipy_remez.csv beside itself, or, with "time", times SciPy on the
design of BenchmarkEquiripple511.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    /usr/bin/python3 speakerlib/fir/testdata/scipy_remez.py
    /usr/bin/python3 speakerlib/fir/testdata/scipy_remez.py time
"""
import csv
import os
import sys
import time

import numpy as np
from scipy import signal

here = os.path.dirname(os.path.abspath(__file__))

if sys.argv[1:] == ["time"]:
    runs = []
    for _ in range(60):
        t = time.perf_counter()
        signal.remez(511, [0, 2000, 2300, 24000], [1, 0], weight=[1, 10], fs=48000)
        runs.append(time.perf_counter() - t)
    print("median %.2f ms, best %.2f ms" % (1e3 * np.median(runs), 1e3 * min(runs)))
    sys.exit()

# name, taps, edges, gains, weights; fs 48 kHz
cases = [
    ("low-pass odd", 41, [0, 4000, 6000, 24000], [1, 0], [1, 1]),
    ("low-pass even", 42, [0, 4000, 6000, 24000], [1, 0], [1, 10]),
    ("high-pass odd", 61, [0, 2000, 4000, 24000], [0, 1], [5, 1]),
    ("band-pass", 95, [0, 2000, 3000, 9000, 10500, 24000], [0, 1, 0], [1, 2, 3]),
    ("band-stop", 75, [0, 5000, 7000, 9000, 11000, 24000], [1, 0, 1], [1, 4, 1]),
    ("long low-pass", 511, [0, 2000, 2300, 24000], [1, 0], [1, 10]),
    ("long even", 300, [0, 9000, 9500, 24000], [1, 0], [1, 3]),
]
with open(os.path.join(here, "scipy_remez.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["name", "taps", "edges_hz", "gains", "weights", "first half of the taps"])
    for name, n, edges, gains, weights in cases:
        h = signal.remez(n, edges, gains, weight=weights, fs=48000, maxiter=100)
        assert np.allclose(h, h[::-1], rtol=0, atol=1e-14)
        s = lambda v: " ".join(repr(float(x)) for x in v)
        w.writerow([name, n, s(edges), s(gains), s(weights), s(h[:(n + 1) // 2])])
