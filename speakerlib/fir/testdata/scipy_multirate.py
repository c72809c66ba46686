"""Writes scipy_multirate.csv beside itself: a bass shelf of linear phase run at an
eighth of the sample rate, by SciPy's upfirdn.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    /usr/bin/python3 speakerlib/fir/testdata/scipy_multirate.py
"""
import csv
import os

import numpy as np
from scipy import signal

here = os.path.dirname(os.path.abspath(__file__))
fs, M, edge, loss = 48000.0, 8, 900.0, 80.0

# The plain filter: 1 and half as much again below 400 Hz.
h = 0.5 * signal.firwin(1025, 400.0, window=("kaiser", 8.0), fs=fs)
h[512] += 1.0
n, beta = signal.kaiserord(loss, (fs / M - 2 * edge) / (fs / 2))
a = signal.firwin(n, fs / M / 2, window=("kaiser", beta), fs=fs)
r = h.copy()
r[512] -= 1.0
g = M * r[::M]

rng = np.random.default_rng(5)
x = np.round(rng.uniform(-1, 1, 3000), 3)
v = signal.lfilter(g, [1.0], signal.upfirdn(a, x, down=M))
y = signal.upfirdn(M * a, v, up=M)[: len(x)]
late = n - 1 + 512
y[late:] += x[: len(x) - late]

with open(os.path.join(here, "scipy_multirate.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["what", "values"])
    s = lambda v: " ".join(repr(float(t)) for t in v)
    w.writerow(["plain", s(h)])
    w.writerow(["decimator", s([n])])
    w.writerow(["input", s(x)])
    w.writerow(["output", s(y)])
