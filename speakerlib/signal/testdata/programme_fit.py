# Fits real poles to programme_levels.csv and prints them with the largest and the
# rms error. /usr/bin/python3 programme_fit.py (SciPy). Its output, which noise.go has:
#
#   high-pass [13.34 34.73 34.73] Hz  low-pass [3893.8 9353.5] Hz  gain 0.190 dB  worst 0.104 dB  rms 0.042 dB
#
# With one pole less below or above the worst error is 0.39 dB or 3.7 dB; with one
# more it does not fall.
import csv
import os

import numpy as np
from scipy.optimize import least_squares

here = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(here, "programme_levels.csv")) as file:
    rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
f = np.array([float(r["hz"]) for r in rows])
want = np.array([float(r["level_dB"]) for r in rows])


def error(p):
    have = np.full_like(f, p[-1])
    for a in np.exp(p[:3]):
        have -= 10 * np.log10(1 + (a / f) ** 2)
    for a in np.exp(p[3:5]):
        have -= 10 * np.log10(1 + (f / a) ** 2)
    return have - want


s = least_squares(error, np.r_[np.log([20, 30, 40, 4000, 9000]), 0])
p = np.exp(s.x[:5])
print("high-pass", p[:3].round(2), "Hz  low-pass", p[3:].round(1), "Hz  gain %.3f dB  worst %.3f dB  rms %.3f dB"
      % (s.x[-1], abs(s.fun).max(), np.sqrt((s.fun**2).mean())))
