"""Writes scipy_minimum.csv beside itself: minimum phases of magnitudes without a
closed form, by the discrete Hilbert transform of ln|H| over linear frequency.

Made with SciPy 1.10.1, NumPy 1.24.2:
    python3 speakerlib/freq/testdata/scipy_minimum.py

The magnitudes are 0 dB far outside, so that the periodic spectrum is free of a step at
half the rate: at 4.2 MHz and 1 Hz spacing the difference from the continuous transform
is below 1e-6 rad at the frequencies listed.
"""
import csv
import os

import numpy as np
from scipy import signal

here = os.path.dirname(os.path.abspath(__file__))
n = 1 << 22  # points, at 1 Hz
f = np.abs(np.fft.fftfreq(n, 1 / n))
f[0] = 1e-9

# Bumps: gain in dB, middle in Hz, width in octaves: 20 log|H| = sum g*exp(-(log2(f/m)/w)^2/2)
sets = {
    "hump": [(6.0, 1000.0, 0.5)],
    "narrow": [(-9.0, 3000.0, 0.08)],
    "voice": [(4.0, 400.0, 1.2), (-3.0, 1500.0, 0.3), (5.0, 9000.0, 0.2), (-6.0, 4000.0, 0.6)],
}
with open(os.path.join(here, "scipy_minimum.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["name", "f_hz", "phase_rad"])
    for name, bumps in sets.items():
        db = sum(g * np.exp(-((np.log2(f / m) / b) ** 2) / 2) for g, m, b in bumps)
        phase = -np.imag(signal.hilbert(db * np.log(10) / 20))
        for hz in [50, 100, 200, 350, 500, 700, 1000, 1400, 2000, 2800, 2950, 3000, 3100, 4000, 6000, 9000, 10000, 14000, 20000]:
            w.writerow([name, hz, "%.9f" % phase[hz]])
