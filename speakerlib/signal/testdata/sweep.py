"""Writes sweep.csv beside itself: the phase of an exponential sweep (sine, not
cosine) as scipy.signal.chirp makes it, method "logarithmic".

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    python3 speakerlib/signal/testdata/sweep.py
"""
import os

import numpy as np
from scipy.signal import chirp

here = os.path.dirname(os.path.abspath(__file__))
fs, T, f0, f1 = 48000, 1.5, 20.0, 20000.0
n = np.array([0, 1, 2, 10, 100, 1000, 5000, 20000, 40000, 60000, 71999])
x = chirp(n / fs, f0, T, f1, method="logarithmic", phi=-90)  # cos(φ − 90°) = sin φ
with open(os.path.join(here, "sweep.csv"), "w") as out:
    for k, v in zip(n, x):
        out.write(f"{k},{float(v)!r}\n")
