"""Writes scipy_prototypes.csv and scipy_butterworth.csv beside itself.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    python3 datasets/reference/scipy_filters.py
"""
import csv
import math
import os

import numpy as np
from scipy import signal

here = os.path.dirname(os.path.abspath(__file__))


def f(x):
    return repr(float(x))


with open(os.path.join(here, "scipy_prototypes.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["family", "order", "re", "im"])
    for n in list(range(1, 13)) + [16, 20, 24]:
        families = {"butterworth": signal.buttap(n)}
        for norm in ["delay", "phase", "mag"]:
            families["bessel " + norm] = signal.besselap(n, norm=norm)
        for family, (z, p, k) in families.items():
            p = [q for q in p if q.imag >= 0]
            for q in sorted(p, key=lambda q: (-q.imag, q.real)):
                w.writerow([family, n, f(q.real), f(q.imag)])

# Butterworth by the prewarped bilinear transform, response from zeros, poles and
# gain at frequencies up to near half the sample rate.
with open(os.path.join(here, "scipy_butterworth.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["band", "order", "fc_hz", "fs_hz", "f_hz", "re", "im"])
    for band in ["lowpass", "highpass"]:
        for n in [1, 2, 3, 4, 7, 8]:
            for fc, fs in [(40.0, 96000.0), (2300.0, 48000.0), (19000.0, 48000.0)]:
                z, p, k = signal.butter(n, fc, band, output="zpk", fs=fs)
                freqs = [fc / 3, fc, min(3 * fc, 0.45 * fs), 0.49 * fs]
                _, h = signal.freqz_zpk(z, p, k, worN=freqs, fs=fs)
                for x, v in zip(freqs, h):
                    w.writerow([band, n, f(fc), f(fs), f(x), f(v.real), f(v.imag)])
