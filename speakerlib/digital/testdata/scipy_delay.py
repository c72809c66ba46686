"""Writes scipy_delay.csv beside itself: group delays, and the least mean square about
their mean that all-passes of second order leave, by least_squares from 150 random
starts (without answers that have an all-pass below the band, a spike at its first
point); or, with "time", times SciPy on the twelve starts of BenchmarkEqualiseDelay.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    /usr/bin/python3 speakerlib/digital/testdata/scipy_delay.py
    /usr/bin/python3 speakerlib/digital/testdata/scipy_delay.py time
"""
import csv
import os
import sys
import time

import numpy as np
from scipy import optimize, signal

here = os.path.dirname(os.path.abspath(__file__))
fs = 48000.0


def delay_of(z, p, f):
    """Group delay in seconds of a filter in z by its zeros and poles."""
    w = np.exp(1j * 2 * np.pi * f / fs)
    d = np.zeros_like(f)
    for q in p:
        d += np.real(q / (w - q)) + 1
    for q in z:
        if abs(abs(q) - 1) > 1e-9:
            d -= np.real(q / (w - q)) + 1
        else:
            d -= 0.5
    return d / fs


def problem(f, tau):
    lo, hi = f[0], f[-1]
    unit = 1 / (hi - lo)
    have, om = tau / unit, 2 * np.pi * f / fs
    w = np.empty_like(f)
    w[1:-1] = f[2:] - f[:-2]
    w[0], w[-1] = f[1] - f[0], f[-1] - f[-2]
    w = np.sqrt(w / (hi - lo))
    scale = 1 / (fs * unit)

    def parts(x):
        th, r = x[:-1:2], x[1:-1:2]
        q = s = c = 0
        t, dt, dr = 0, 0, 0
        for sign in (-1, 1):
            a = om[:, None] + sign * th
            c, s = np.cos(a), np.sin(a)
            d = 1 + r * r - 2 * r * c
            q = (1 - r * r) / d
            t = t + q
            dt = dt - q / d * 2 * r * s * sign
            dr = dr - 2 * r / d - q / d * (2 * r - 2 * c)
        return t, dt, dr

    def res(x):
        return w * (have - x[-1] + scale * parts(x)[0].sum(axis=1))

    def jac(x):
        _, dt, dr = parts(x)
        out = np.empty((len(f), len(x)))
        out[:, :-1:2] = w[:, None] * scale * dt
        out[:, 1:-1:2] = w[:, None] * scale * dr
        out[:, -1] = -w
        return out

    wlo, whi = 2 * np.pi * lo / fs, 2 * np.pi * hi / fs

    def bounds(n):
        lower = np.append(np.tile([wlo / 2, 0.01], n), -np.inf)
        upper = np.append(np.tile([min(1.5 * whi, (whi + np.pi) / 2), 1 - 1e-6], n), np.inf)
        return lower, upper

    return res, jac, bounds, wlo, whi, unit


def solve(p, x0, n):
    res, jac, bounds, *_ = p
    return optimize.least_squares(res, x0, jac=jac, bounds=bounds(n), xtol=1e-10, ftol=1e-10, gtol=1e-10, max_nfev=1000)


def twelve(p, n):
    res, jac, _, wlo, whi, _ = p
    best = None
    for a, b in [(0, 1), (0, 0.5), (0.5, 1), (0.25, 0.75)]:
        for width in [0.5, 1.2, 3]:
            apart = (b - a) * (whi - wlo) / n
            x = np.zeros(2 * n + 1)
            x[:-1:2] = wlo + a * (whi - wlo) + apart * (np.arange(n) + 0.5)
            x[1:-1:2] = max(0.05, 1 - width * apart)
            x[-1] = 0
            r = solve(p, x, n)
            if best is None or r.cost < best.cost:
                best = r
    return best


cases = []
z, p, k = signal.iirfilter(4, 3000, rp=0.4, rs=46, btype="low", ftype="ellip", output="zpk", fs=fs)
f = np.linspace(20, 2700, 200)
cases.append(("elliptic low-pass", f, delay_of(z, p, f)))
z, p, k = signal.butter(4, 2300, output="zpk", fs=fs)
f = np.geomspace(200, 8000, 160)
cases.append(("squared Butterworth", f, 2 * delay_of(z, p, f)))
z, p, k = signal.butter(4, 35, btype="high", output="zpk", fs=fs)
f = np.linspace(30, 300, 150)
cases.append(("bass", f, delay_of(z, p, f)))
z, p, k = signal.butter(7, 476.658, output="zpk", fs=fs)
f = np.geomspace(69, 1083, 120)
cases.append(("Butterworth", f, delay_of(z, p, f)))

if sys.argv[1:] == ["time"]:
    p = problem(*cases[0][1:])
    runs = []
    for _ in range(7):
        t = time.perf_counter()
        twelve(p, 4)
        runs.append(time.perf_counter() - t)
    print("median %.0f ms" % (1e3 * np.median(runs)))
    sys.exit()

with open(os.path.join(here, "scipy_delay.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["name", "all-passes", "root of the least mean square in s", "frequencies", "delays"])
    s = lambda v: " ".join(repr(float(t)) for t in v)
    rng = np.random.default_rng(3)
    for name, f, tau in cases:
        pr = problem(f, tau)
        for n in [1, 2, 3, 4]:
            best = twelve(pr, n)
            lower, upper = pr[2](n)
            for _ in range(150):
                x = np.empty(2 * n + 1)
                x[:-1:2] = rng.uniform(lower[0], upper[0], n)
                x[1:-1:2] = 1 - np.exp(rng.uniform(np.log(0.3 * pr[3] + 1e-4), np.log(0.9), n))
                x[-1] = 0
                r = solve(pr, x, n)
                if r.cost < best.cost and pr[3] <= min(r.x[:-1:2]):
                    best = r
            rms = np.sqrt(best.cost) * pr[5]  # the squared weights sum to 2
            w.writerow([name, n, repr(float(rms)), s(f), s(tau)])
