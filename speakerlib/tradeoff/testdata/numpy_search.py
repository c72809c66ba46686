# The search of bench_test.go in NumPy, on one core, from the circuit written out:
# 5 volumes x 40 tunings x 2 Butterworth orders x 25 extensions = 10 000 candidates at
# 240 frequencies. Two ways: every candidate on its own, vectorised over candidates and
# frequencies; and with what a box costs per pascal computed once and broadcast over the
# targets, as the library does. Writes every 397th candidate to numpy_search.csv.
#
# Run from the root of the repository with Debian's Python 3.11, NumPy 1.24.2:
#   OPENBLAS_NUM_THREADS=1 /usr/bin/python3 speakerlib/tradeoff/testdata/numpy_search.py
import csv
import time

import numpy as np

RHO, C = 1.2, 343.0
RE, BL, MMS, CMS, RMS, SD, LE = 5.5, 7.5, 0.0152, 0.97e-3, 0.85, 0.0138, 0.4e-3
QL, XMAX, VMAX, AMAX, AIRMAX = 8.0, 6e-3, 30.0, 14.0, 20.0
LEVEL, CREST, DROP, ROOM = 97.0, 12.0, 6.0, 0.25
DELAY_AT, DELAY_MOST = 38.5, 30e-3
P = 20e-6 * 10 ** (LEVEL / 20)

hz = 12 * 2 ** (np.arange(240) / 48)
w = 2 * np.pi * hz
s = 1j * w
dx = np.diff(np.log(hz))
weight = (np.append(dx, 0) + np.append(0, dx)) / 2 / np.log(hz[-1] / hz[0])

gross = np.linspace(0.012, 0.020, 5)
tuning = np.linspace(34, 53.5, 40)
order = np.array([4, 6])
extension = np.linspace(30, 42, 25)
x_drop = (10 ** (DROP / 10) - 1) ** (-1 / (2 * order))


def vent(g, fb):
    a, e, k = 0.026, 0.026 * (0.6133 + 0.8217), np.pi * 0.029**2
    q = C**2 * np.pi * a**2 / (2 * np.pi * fb) ** 2
    # (L+e)(g - kL) = q
    b = g - k * e
    length = (b - np.sqrt(b * b - 4 * k * (q - g * e))) / (2 * k)
    return length, g - k * length, RHO * (length + e) / (np.pi * a * a), np.pi * a * a


def box(g, fb):
    """Cone, vent air, amperes and volts per pascal rms (rms), arrays (..., frequency)."""
    _, net, mass, area = vent(g, fb)
    cab = net / (RHO * C * C)
    leak = 2 * np.pi * fb * cab / QL
    u0 = 2 * np.pi / (RHO * s)  # net volume velocity for 1 Pa at 1 m in half space
    pb = -u0 / (s * cab[..., None])  # the box's pressure
    port = pb / (s * mass[..., None])
    cone = u0 - port - pb * leak[..., None]
    v = cone / SD
    i = ((RMS + s * MMS + 1 / (s * CMS)) * v - SD * pb) / BL
    volts = (RE + s * LE) * i + BL * v
    return np.abs(v / s), np.abs(port / area), np.abs(i), np.abs(volts)


def target(n, ext):
    fc = ext / x_drop[n]
    y = (hz / fc[..., None]) ** (2 * order[n][..., None])
    return np.sqrt(y / (1 + y))


def delay(n, ext):
    fc = ext / x_drop[n]
    out = np.zeros(np.broadcast(n, ext).shape)
    for o in order:
        at = order[n] == o
        x = DELAY_AT / fc[at]
        sum = np.zeros_like(x)
        for k in range(1, o + 1):
            p = np.exp(1j * np.pi * (2 * k + o - 1) / (2 * o))
            sum += -p.real / (p.real**2 + (x - p.imag) ** 2)
        out[at] = sum / (2 * np.pi * fc[at])
    return out


def finish(cone, air, amps, volts, power, heat):
    x, air = np.sqrt(2) * P * cone, np.sqrt(2) * P * air
    volts, amps = np.sqrt(2) * P * volts, np.sqrt(2) * P * amps
    used = np.maximum.reduce([x / XMAX, air / AIRMAX, volts / VMAX, amps / AMAX])
    crest = 10 ** (CREST / 20)
    return LEVEL - 20 * np.log10(used), x, air, volts, amps, P * P * power, RE * heat * P * P * 2 / crest**2, used


def direct():
    g, fb, n, ext = [a.ravel() for a in np.meshgrid(gross, tuning, np.arange(2), extension, indexing="ij")]
    parts = []
    for at in np.array_split(np.arange(g.size), 100):  # blocks that stay in the cache
        cone, air, amps, volts = box(g[at], fb[at])
        t = target(n[at], ext[at])
        cone, air, amps, volts = cone * t, air * t, amps * t, volts * t
        parts.append([cone.max(1), air.max(1), amps.max(1), volts.max(1), (amps * volts).max(1), (amps**2) @ weight])
    out = finish(*[np.concatenate(c) for c in zip(*parts)])
    return (g, fb, n, ext, delay(n, ext)) + out


def factored():
    n, ext = [a.ravel() for a in np.meshgrid(np.arange(2), extension, indexing="ij")]
    t = target(n, ext)
    t2 = t * t
    d = delay(n, ext)
    g, fb = [a.ravel() for a in np.meshgrid(gross, tuning, indexing="ij")]
    tables = box(g, fb)
    shape = (g.size, n.size)
    most = [np.empty(shape) for _ in range(5)]
    buffer = np.empty((n.size, hz.size))
    for k in range(g.size):
        cone, air, amps, volts = [a[k] for a in tables]
        for m, row, by in zip(most, (cone, air, amps, volts, amps * volts), (t, t, t, t, t2)):
            np.multiply(by, row, out=buffer)
            buffer.max(1, out=m[k])
    heat = (tables[2] ** 2 * weight) @ t2.T
    out = finish(*[m.ravel() for m in most], heat.ravel())
    full = lambda a: np.repeat(a, n.size)
    return (full(g), full(fb), np.tile(n, g.size), np.tile(ext, g.size), np.tile(d, g.size)) + out


def front(r):
    length = vent(r[0], r[1])[0]
    ok = (r[12] <= 1) & (r[4] <= DELAY_MOST) & (length <= ROOM)
    v = np.stack([r[3], -r[5], r[4]], 1)[ok]
    v = v[np.lexsort(v.T[::-1])]
    kept = np.empty_like(v)
    n = 0
    for x in v:
        k = kept[:n]
        if not ((k <= x).all(1) & (k < x).any(1)).any():
            kept[n] = x
            n += 1
    # Where the vent's air binds, cabinets of all sizes are alike, but for rounding.
    return len(np.unique(np.round(kept[:n], 6), axis=0)), int(ok.sum())


def best(f, *a):
    times = []
    for _ in range(7):
        t0 = time.perf_counter()
        r = f(*a)
        times.append(time.perf_counter() - t0)
    return r, sorted(times)[3]


a, ta = best(direct)
b, tb = best(factored)
for x, y in zip(a, b):
    assert np.allclose(x, y, rtol=1e-11), "the two ways differ"
(size, feasible), tf = best(front, b)
print(f"direct {ta*1e3:.0f} ms, factored {tb*1e3:.1f} ms, front {tf*1e3:.1f} ms (medians of 7); {size} of {feasible} that keep all")
with open("speakerlib/tradeoff/testdata/numpy_search.csv", "w", newline="") as f:
    out = csv.writer(f, lineterminator="\n")
    out.writerow("gross fb order extension delay level excursion air volts amps power heat length".split())
    length = vent(a[0], a[1])[0]
    for k in range(0, a[0].size, 397):
        out.writerow([repr(float(x)) for x in (a[0][k], a[1][k], order[a[2][k]], *[c[k] for c in a[3:12]], length[k])])
    out.writerow([repr(float(x)) for x in (0, 0, 0, 0, 0, 0, 0, 0, 0, 0, size, feasible, 0)])
