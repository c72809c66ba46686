"""Writes scipy_sphere.csv beside itself: pressure on the axis, far away, of a small
source on a rigid sphere over that of the same source in an infinite wall.

Made with SciPy 1.10.1, NumPy 1.24.2:
    python3 speakerlib/measure/testdata/scipy_sphere.py

The field is not taken from the closed sum of the far field but matched on the sphere
and evaluated at a distance of 10^7 radii, which leaves about 1e-7.
"""
import csv
import os

import numpy as np
from scipy.special import spherical_jn as j, spherical_yn as y

here = os.path.dirname(os.path.abspath(__file__))


def h(n, x, derivative=False):
    return j(n, x, derivative) - 1j * y(n, x, derivative)


with open(os.path.join(here, "scipy_sphere.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["ka", "re", "im"])
    for ka in [0.05, 0.2, 0.5, 0.8, 1, 1.5, 2, 3, 5, 8, 13, 20]:
        # Radius 1, rho*c = 1, volume velocity 1: radial velocity (2n+1)/(4 pi) of order n.
        n = np.arange(0, int(ka + 8 + 4 * ka ** (1 / 3)))
        r = 1e7
        p = np.sum(-1j * (2 * n + 1) / (4 * np.pi) / h(n, ka, True) * h(n, ka * r))
        wall = 1j * ka / (2 * np.pi * (r - 1)) * np.exp(-1j * ka * (r - 1))
        v = p / wall
        w.writerow([ka, "%.8f" % v.real, "%.8f" % v.imag])
