"""Writes scipy_least_squares.csv beside itself: problems of the NIST
nonlinear-regression set with bounds that bind, solved by
scipy.optimize.least_squares (trust region reflective, bounds) and polished by
fixing what lies on a bound and solving the rest without bounds (MINPACK).

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    python3 datasets/reference/scipy_least_squares.py
"""
import csv
import os

import numpy as np
from scipy.optimize import least_squares

here = os.path.dirname(os.path.abspath(__file__))
inf = np.inf

misra_x = np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0])
misra_y = np.array([10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78])
mgh_x = np.array([4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625])
mgh_y = np.array([0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246])
rat_x = np.arange(1.0, 16.0)
rat_y = np.array([16.08, 33.83, 65.80, 97.20, 191.55, 326.20, 386.87, 520.53, 590.03, 651.92, 724.93, 699.56, 689.96, 637.56, 717.41])

problems = [
    ("Misra1a", lambda b: b[0] * (1 - np.exp(-b[1] * misra_x)) - misra_y, [225, 5e-4], [0, 1e-4], [230, 1e-2]),
    ("Misra1a", lambda b: b[0] * (1 - np.exp(-b[1] * misra_x)) - misra_y, [250, 7e-4], [0, 6e-4], [1000, 1e-2]),
    ("MGH09", lambda b: b[0] * (mgh_x**2 + mgh_x * b[1]) / (mgh_x**2 + mgh_x * b[2] + b[3]) - mgh_y, [0.25, 0.39, 0.415, 0.39], [0, 0, 0.2, 0], [1, 1, 1, 1]),
    ("MGH09", lambda b: b[0] * (mgh_x**2 + mgh_x * b[1]) / (mgh_x**2 + mgh_x * b[2] + b[3]) - mgh_y, [0.18, 0.39, 0.415, 0.39], [0, 0.25, 0, 0], [0.185, 1, 1, 1]),
    ("Rat43", lambda b: b[0] / (1 + np.exp(b[1] - b[2] * rat_x)) ** (1 / b[3]) - rat_y, [650, 5, 0.75, 1.3], [1, 1, 0.1, 0.1], [680, 10, 5, 5]),
    ("Rat43", lambda b: b[0] / (1 + np.exp(b[1] - b[2] * rat_x)) ** (1 / b[3]) - rat_y, [680, 3, 0.75, 1.1], [1, 1, 0.1, 0.1], [690, 4, 5, 5]),
]


def cell(v):
    return " ".join(repr(float(x)) for x in v)


with open(os.path.join(here, "scipy_least_squares.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["problem", "start", "lower", "upper", "x", "sum_squares", "active"])
    for name, fun, x0, lo, hi in problems:
        r = least_squares(fun, x0, jac="3-point", bounds=(lo, hi), x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=10000)
        lo, hi = np.array(lo, float), np.array(hi, float)
        x = r.x.copy()
        active = np.zeros(len(x), int)
        active[np.abs(x - lo) < 1e-5 * np.maximum(np.abs(lo), 1e-9)] = -1
        active[np.abs(x - hi) < 1e-5 * np.abs(hi)] = 1
        x[active == -1] = lo[active == -1]
        x[active == 1] = hi[active == 1]
        free = active == 0

        def reduced(p):
            y = x.copy()
            y[free] = p
            return fun(y)

        s = least_squares(reduced, x[free], jac="3-point", method="lm", x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=10000)
        x[free] = s.x
        w.writerow([name, cell(x0), cell(lo), cell(hi), cell(x), repr(float(2 * s.cost)), " ".join(str(int(a)) for a in active)])
