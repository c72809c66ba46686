"""Writes gated.csv beside itself: random samples, three windows of them and the
responses of the products at logarithmic frequencies (scipy.signal.freqz) and, of
the whole, at the lines of a transform (scipy.fft.rfft).

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    python3 speakerlib/measure/testdata/gated.py
"""
import os

import numpy as np
from scipy import fft, signal

here = os.path.dirname(os.path.abspath(__file__))
rng = np.random.default_rng(3)
n, fs = 65, 48000.0
h = rng.normal(size=n) * np.exp(-np.arange(n) / 20)
hz = np.geomspace(50, 23000, 17)
black = signal.windows.blackman(2 * 24 + 1)[:24]
windows = {
    "tukey": signal.windows.tukey(n, 0.5),
    "blackman": np.concatenate([np.ones(n - 24), black[::-1]]),
    "bartlett": signal.windows.bartlett(n),
}
row = lambda name, v: out.write(",".join([name] + [repr(float(x)) for x in v]) + "\n")
with open(os.path.join(here, "gated.csv"), "w") as out:
    row("samples", h)
    row("hz", hz)
    for name, w in windows.items():
        row(name, w)
        _, r = signal.freqz(h * w, worN=hz, fs=fs)
        row(name + " real", r.real)
        row(name + " imag", r.imag)
    r = fft.rfft(h, 64 + 1)
    row("lines", fft.rfftfreq(65, 1 / fs)[1:])
    row("lines real", r.real[1:])
    row("lines imag", r.imag[1:])
