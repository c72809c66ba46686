"""Writes scipy_curves.csv and scipy_fit.csv beside itself: an impedance in free air
and one with an added mass, with 0.3 % noise, of an inductance with a ladder and
logarithmic creep; and the parameters and standard errors that
scipy.optimize.least_squares finds for both curves at once, with the weights 1/|Z|.
The model is known to it, and it starts 10 % beside the truth.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    OMP_NUM_THREADS=1 python3 speakerlib/identify/testdata/scipy_fit.py
It prints the time of one fit of one model, derivatives by differences: 25 to 60 ms on
one core, where
    go test -run '^$' -bench SciPyPair -cpu 1 ./speakerlib/identify
takes 10 to 20 ms for the choice among seven models and the fit of the chosen one.
"""
import csv
import os
import time

import numpy as np
from scipy.optimize import least_squares

here = os.path.dirname(os.path.abspath(__file__))
f = 8 * 2 ** (np.arange(339) / 30)
jw = 2j * np.pi * f
added = 6e-3


def impedance(p, mass, re):
    """p: Fs, Mms, Bl, Rms (viscous), lambda, Le, L2, R2."""
    fs, mms, bl, rms, lam, le, l2, r2 = p
    form = lambda f: 1 / (1 - lam * np.log10(1j * f / fs))
    k = form(f) / np.real(form(fs)) * (2 * np.pi * fs) ** 2 * mms
    zm = jw * (mms + mass) + rms + k / jw
    return re + jw * le + 1 / (1 / (jw * l2) + 1 / r2) + bl**2 / zm


truth = np.array([41.5, 15.2e-3, 7.4, 0.55, 0.07, 0.2e-3, 0.4e-3, 6.0])
re = [5.5, 5.6]
rng = np.random.default_rng(20240601)
z = []
for mass, r in zip([0, added], re):
    clean = impedance(truth, mass, r)
    n = rng.standard_normal((2, len(f)))
    z.append(clean * (1 + 0.003 / np.sqrt(2) * (n[0] + 1j * n[1])))


def residual(u):
    p = truth * u[:8]
    out = []
    for k, mass in enumerate([0, added]):
        d = (impedance(p, mass, re[k] * u[8 + k]) - z[k]) / abs(z[k])
        out += [d.real, d.imag]
    return np.concatenate(out)


u0 = np.array([1.1, 0.9, 1.1, 0.9, 1.1, 0.9, 1.1, 0.9, 1.1, 0.9])
t = time.perf_counter()
fit = least_squares(residual, u0, jac="3-point", method="trf", x_scale="jac", bounds=(0.01, 100), ftol=1e-14, xtol=1e-14, gtol=1e-14)
print("%.1f ms, %d evaluations of the Jacobian, rms %.6g" % (1e3 * (time.perf_counter() - t), fit.njev, np.sqrt(2 * fit.cost / len(fit.fun))))
cov = np.linalg.inv(fit.jac.T @ fit.jac) * 2 * fit.cost / (len(fit.fun) - 10)
error = np.sqrt(np.diag(cov))

with open(os.path.join(here, "scipy_curves.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["frequency_Hz", "free_real_ohm", "free_imag_ohm", "mass_real_ohm", "mass_imag_ohm"])
    for row in zip(f, z[0].real, z[0].imag, z[1].real, z[1].imag):
        w.writerow([repr(float(v)) for v in row])
with open(os.path.join(here, "scipy_fit.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["parameter", "value", "standard_error"])
    for name, s, v, e in zip(["Fs", "Mms", "Bl", "Rms", "creep", "Le", "L2", "R2", "Re"], list(truth) + [re[0]], fit.x, error):
        w.writerow([name, repr(float(s * v)), repr(float(s * e))])
