"""Writes mpmath_linear_phase.csv beside itself: all-pole low-passes with equal
ripple of phase or group delay, half the power at 1 rad/s, solved with 40 digits.

Unknown are the n real parameters of the poles and the frequencies of the n
extremals, all at once; the equations are the deviation and its derivative at each.
The search begins from a line of poles and gets through the orders and ripples by
least squares in double precision first; the answer does not depend on that.

Made with mpmath 1.2.1, SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    /usr/bin/python3 speakerlib/analog/testdata/mpmath_linear_phase.py
"""
import csv
import os

import mpmath as mp
import numpy as np
from scipy import optimize

mp.mp.dps = 40
here = os.path.dirname(os.path.abspath(__file__))


def pairs(x, n):
    """(a, b) of the poles -a ± jb; b is 0 of a real one."""
    out = [(x[2 * i], x[2 * i + 1]) for i in range(n // 2)]
    return out + ([(x[n - 1], 0 * x[0])] if n % 2 else [])


def tau(x, n, w):
    s = 0
    for i, (a, b) in enumerate(pairs(x, n)):
        s += a / (a * a + (w - b) ** 2)
        if 2 * i + 1 < n:
            s += a / (a * a + (w + b) ** 2)
    return s


def phase(x, n, w, atan):
    s = 0
    for i, (a, b) in enumerate(pairs(x, n)):
        s += atan((w - b) / a)
        if 2 * i + 1 < n:
            s += atan((w + b) / a)
    return s


def start(n, dev, kind):
    """Poles whose delay is 1 in the mean of squares over the widest band that keeps
    the deviation near dev."""
    for band in np.linspace(1.5 * n, 0.1 * n, 141):
        w = band * np.sin(np.pi / 2 * np.linspace(0.002, 1, 400))
        if kind == "phase":
            f = lambda x: phase(x, n, w, np.arctan) - w
        else:
            f = lambda x: tau(x, n, w) - 1
        x0 = []
        for i in range(n // 2):
            x0 += [1.5, band * (1 - (2 * i + 1) / n)]
        if n % 2:
            x0 += [1.5]
        r = optimize.least_squares(f, x0, xtol=1e-14, ftol=1e-14, gtol=1e-14, max_nfev=2000)
        if np.max(np.abs(f(r.x))) < 2 * dev:
            return r.x, band
    raise SystemExit("no start")


def solve(n, dev, kind):
    x, band = start(n, dev, kind)
    w = np.linspace(0, 1.3 * band, 20001)[1:]
    e = phase(x, n, w, np.arctan) - w if kind == "phase" else tau(x, n, w) - 1
    at = [w[i] for i in range(1, len(w) - 1) if (e[i] - e[i - 1]) * (e[i + 1] - e[i]) < 0]
    if kind == "delay":
        at = [0.0] + at
    assert len(at) >= n, (n, dev, kind, len(at))
    at = at[:n]
    first = 1 if kind == "delay" else 0
    sign = [(-1) ** (n - 1 - i) for i in range(n)]

    def equations(*v):
        p, om = v[:n], [mp.mpf(0)] * first + list(v[n:])
        out = []
        for i in range(n):
            if kind == "phase":
                out.append(phase(p, n, om[i], mp.atan) - om[i] - sign[i] * dev)
                out.append(tau(p, n, om[i]) - 1)
            else:
                out.append(tau(p, n, om[i]) - 1 - sign[i] * dev)
                if i >= first:
                    out.append(mp.diff(lambda t: tau(p, n, t), om[i]))
        return out

    v = mp.findroot(equations, [mp.mpf(float(t)) for t in list(x) + at[first:]], tol=1e-50, maxsteps=60, verify=False)
    assert max(abs(t) for t in equations(*v)) < mp.mpf(10) ** -28
    p = pairs([v[i] for i in range(n)], n)
    z = []
    for i, (a, b) in enumerate(p):
        z.append(mp.mpc(-a, abs(b)))
        if 2 * i + 1 < n:
            z.append(mp.mpc(-a, -abs(b)))
    excess = lambda w: sum(2 * mp.log(abs(mp.mpc(0, w) - q) / abs(q)) for q in z) - mp.log(2)
    corner = mp.findroot(excess, (mp.mpf("0.2"), mp.mpf(3)), solver="anderson", tol=1e-60)
    return sorted([q / corner for q in z if q.imag >= 0], key=lambda q: -q.imag)


if __name__ == "__main__":
    with open(os.path.join(here, "mpmath_linear_phase.csv"), "w", newline="") as out:
        w = csv.writer(out, lineterminator="\n")
        w.writerow(["kind", "order", "ripple", "re", "im"])
        for kind, devs in [("phase", ["1e-4", "1e-3", "8.7e-3"]), ("delay", ["1e-3", "1e-2", "2e-2"])]:
            for n in [2, 3, 4, 5, 6, 7, 8, 10, 13, 16]:
                for dev in devs:
                    for q in solve(n, mp.mpf(dev), kind):
                        w.writerow([kind, n, dev, mp.nstr(q.real, 20), mp.nstr(q.imag, 20)])
                    out.flush()
