"""The peer of BenchmarkFloat64Stereo: ten sections over 10 s of stereo at 96 kHz.

    /usr/bin/python3 speakerlib/dsp/testdata/sosfilt_bench.py

Prints the median of nine runs of scipy.signal.sosfilt (one core), float64.
"""
import statistics
import time

import numpy as np
import scipy
from scipy import signal

fs, n = 96000, 960000


def peak(f, gain, q):
    a, w = np.sqrt(gain), 2 * np.pi * f / fs
    al = np.sin(w) / (2 * q)
    b = np.array([1 + al * a, -2 * np.cos(w), 1 - al * a])
    d = np.array([1 + al / a, -2 * np.cos(w), 1 - al / a])
    return np.concatenate([b, d]) / d[0]


sos = np.array([peak(f, 0.8, 1 + i % 3) for i, f in enumerate([25, 40, 60, 110, 230, 500, 1100, 2300, 6000, 12000])])
x = np.random.default_rng(1).standard_normal((2, n))
times = []
for _ in range(9):
    t = time.perf_counter()
    signal.sosfilt(sos, x)
    times.append(time.perf_counter() - t)
m = statistics.median(times)
print("SciPy", scipy.__version__, "median %.1f ms, %.0f times real time" % (1e3 * m, n / fs / m))
