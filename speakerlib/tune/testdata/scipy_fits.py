"""Fits of filter sections by scipy.optimize.least_squares: minima for the tests of
package tune, and the peer of its benchmark. Writes scipy_fits.csv beside itself
and prints times.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    OPENBLAS_NUM_THREADS=1 python3 speakerlib/tune/testdata/scipy_fits.py

Sections are those of the audio-EQ cookbook (bilinear), written from their
prototypes in s; residuals are in nepers, unweighted over points equally spaced in
log frequency but for the first and last, which count half.
"""
import csv
import os
import time

import numpy as np
from scipy.optimize import least_squares
from scipy.signal import sosfreqz

here = os.path.dirname(os.path.abspath(__file__))
FS = 96000.0


def grid(lo, n, per):
    return lo * 2.0 ** (np.arange(n) / per)


def weights(n):
    w = np.ones(n)
    w[0] = w[-1] = 0.5
    return np.sqrt(w / w.sum())


def section(kind, th, f):
    """Complex response of a section with parameters (ln F0, [ln Gain,] ln Q)."""
    s = 1j * np.tan(np.pi * f / FS) / np.tan(np.pi * np.exp(th[0]) / FS)
    if kind == "peak":
        a, q = np.exp(th[1] / 2), np.exp(th[2])
        return (s * s + s * a / q + 1) / (s * s + s / (a * q) + 1)
    q = np.exp(th[1])
    return {"lowpass": 1, "highpass": s * s}[kind] / (s * s + s / q + 1)


def peaks_db(th, f):
    """ln|H| of peaks in closed form, all at once."""
    th = th.reshape(-1, 3)
    t = np.tan(np.pi * np.exp(th[:, 0]) / FS)[:, None]
    y2 = (np.tan(np.pi * f / FS)[None, :] / t) ** 2
    k = np.exp(th[:, 1] - 2 * th[:, 2])[:, None]
    m = np.exp(-th[:, 1] - 2 * th[:, 2])[:, None]
    d = (1 - y2) ** 2
    return 0.5 * np.log(((d + k * y2) / (d + m * y2)).prod(axis=0))


def peaks_jac(th, f):
    th = th.reshape(-1, 3)
    w0 = np.pi * np.exp(th[:, 0]) / FS
    t = np.tan(w0)[:, None]
    kappa = (w0 * (1 + np.tan(w0) ** 2) / np.tan(w0))[:, None]
    y2 = (np.tan(np.pi * f / FS)[None, :] / t) ** 2
    k = np.exp(th[:, 1] - 2 * th[:, 2])[:, None]
    m = np.exp(-th[:, 1] - 2 * th[:, 2])[:, None]
    d = (1 - y2) ** 2
    n, e = d + k * y2, d + m * y2
    dd = -2 * (1 - y2)
    out = np.empty((f.size, th.shape[0], 3))
    out[:, :, 0] = (-kappa * y2 * ((dd + k) / n - (dd + m) / e)).T
    out[:, :, 1] = (0.5 * (k * y2 / n + m * y2 / e)).T
    out[:, :, 2] = (m * y2 / e - k * y2 / n).T
    return out.reshape(f.size, -1)


rows = []

# 1: eight peaks, 24 parameters, 481 points; the level is one parameter more.
f = grid(20.0, 481, 48)
want, x0, lo, hi = [], [0.0], [-np.inf], [np.inf]
for k in range(8):
    f0, sign = 40 * 2.0**k, 1 - 2 * (k % 2)
    want += [np.log(f0 * (1 + 0.1 * np.sin(k))), np.log(10) / 20 * sign * (2 + k % 4), np.log(1.2 + 0.2 * (k % 3))]
    x0 += [np.log(f0), np.log(10) / 20 * sign, 0.0]
    lo += [np.log(f0 / 2), -12 * np.log(10) / 20, np.log(0.3)]
    hi += [np.log(f0 * 2), 12 * np.log(10) / 20, np.log(8)]
want, x0 = np.array(want), np.array(x0)
target = peaks_db(want, f) + 0.02 * np.sin(np.arange(f.size))
w = weights(f.size)


def fun(x):
    return w * (x[0] + peaks_db(x[1:], f) - target)


def jac(x):
    return w[:, None] * np.hstack([np.ones((f.size, 1)), peaks_jac(x[1:], f)])


def plain(x):
    """The same by scipy.signal.sosfreqz: the form that needs no algebra."""
    th = x[1:].reshape(-1, 3)
    w0, a, q = 2 * np.pi * np.exp(th[:, 0]) / FS, np.exp(th[:, 1] / 2), np.exp(th[:, 2])
    alpha, c = np.sin(w0) / (2 * q), np.cos(w0)
    sos = np.stack([1 + alpha * a, -2 * c, 1 - alpha * a, 1 + alpha / a, -2 * c, 1 - alpha / a], axis=1)
    sos /= sos[:, 3:4]
    return w * (x[0] + np.log(np.abs(sosfreqz(sos, f, fs=FS)[1])) - target)


def timed(fun, **kw):
    best = []
    for _ in range(7):
        t = time.process_time()  # of the processor, so that others who use it do not count
        r = least_squares(fun, x0, bounds=(lo, hi), **kw)
        best.append(time.process_time() - t)
    return sorted(best)[3], r


for name, fn, kw in (("default, sosfreqz", plain, {}), ("default, closed |H|", fun, {}), ("analytic Jacobian, closed |H|", fun, {"jac": jac})):
    t, r = timed(fn, **kw)
    print("eight peaks, %s: %.2f ms, rms %.9g Np, %d evaluations" % (name, 1e3 * t, np.sqrt(2 * r.cost), r.nfev))
tight = dict(ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=5000)
r = least_squares(fun, x0, jac=jac, bounds=(lo, hi), **tight)
rows.append(["eight", repr(float(np.sqrt(2 * r.cost)))] + [repr(float(v)) for v in r.x])

# 2: three directions, one filter of two peaks: all residuals stacked.
f = grid(200.0, 121, 24)
w = weights(f.size)
views = [(1.0, 3 * np.sin(np.log(f / 200) * 1.3)), (0.7, 2 * np.cos(np.log(f / 300) * 1.1)), (0.4, 4 * np.sin(np.log(f / 150)))]
views = [(c, v * np.log(10) / 20) for c, v in views]
norm = np.sqrt(sum(c * c for c, _ in views))


def fun2(x):
    h = x[0] + peaks_db(x[1:], f)
    return np.concatenate([c / norm * w * (h + v) for c, v in views])


x0 = np.array([0, np.log(500), 0.1, 0, np.log(3000), -0.1, 0])
r = least_squares(fun2, x0, jac="3-point", bounds=([-9, np.log(200), -2, np.log(0.2), np.log(200), -2, np.log(0.2)], [9, np.log(6000), 2, np.log(6), np.log(6000), 2, np.log(6)]), **tight)
rows.append(["directions", repr(float(np.sqrt(2 * r.cost)))] + [repr(float(v)) for v in r.x])

# 3: the complex sum of two ways in two directions.
f = grid(500.0, 97, 24)
w = weights(f.size)
lowsrc = 1 / (1 + 1j * f / 4000)
highsrc = (1j * f / 900) / (1 + 1j * f / 900)
shift = [0.0, 60e-6]
target3 = [0.0, -1.0]
counts = [1.0, 0.5]
norm3 = np.sqrt(1.25)


def fun3(x):
    low = np.exp(x[0]) * section("lowpass", x[1:3], f) * section("peak", x[3:6], f) * lowsrc
    high = np.exp(x[6]) * np.exp(-2j * np.pi * f * x[7] * 1e-4) * section("highpass", x[8:10], f) * highsrc
    out = []
    for s, t, c in zip(shift, target3, counts):
        p = low * np.exp(-2j * np.pi * f * s) - high
        out.append(c / norm3 * w * (np.log(np.abs(p)) - t * np.log(10) / 20))
    return np.concatenate(out)


x0 = np.array([0, np.log(2000), np.log(0.7), np.log(1000), 0.2, 0, 0, 0.3, np.log(2000), np.log(0.7)])
lo = [-0.7, np.log(800), np.log(0.4), np.log(600), -1, np.log(0.4), -0.7, 0.0, np.log(800), np.log(0.4)]
hi = [0.7, np.log(5000), np.log(2), np.log(3000), 1, np.log(4), 0.7, 1.3, np.log(5000), np.log(2)]
r = least_squares(fun3, x0, jac="3-point", bounds=(lo, hi), **tight)
rows.append(["sum", repr(float(np.sqrt(2 * r.cost)))] + [repr(float(v)) for v in r.x])

with open(os.path.join(here, "scipy_fits.csv"), "w", newline="") as out:
    c = csv.writer(out, lineterminator="\n")
    c.writerow(["# by scipy_fits.py: fit, rms of the minimum in nepers, parameters"])
    c.writerows(rows)
