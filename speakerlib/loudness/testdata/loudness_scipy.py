# Reference values for package loudness, computed with SciPy 1.10.1.
# Run: /usr/bin/python3 loudness_scipy.py > loudness_scipy.csv
#
# Written from ITU-R BS.1770-4, Annex 1 (coefficients from memory); the other rates by poles and
# zeros in the plane of s, section by section, not by the formulas of the library.
import numpy as np
from scipy import signal, stats

SHELF = ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1, -1.69065929318241, 0.73248077421585])
HIGH = ([1, -2, 1], [1, -1.99004745483398, 0.99007225036621])


def section(b, a, rate):
    if rate == 48000:
        return np.array(b), np.array(a)
    z, p, _ = signal.tf2zpk(b, a)
    to_s = lambda x: (x - 1) / (x + 1)  # normalised: s = j tan(w/2)
    zs, ps = to_s(z), to_s(p)
    k = np.sqrt(np.prod(ps).real)
    f0 = np.arctan(k) * 48000 / np.pi
    r = np.tan(np.pi * f0 / rate) / k
    zs, ps = zs * r, ps * r
    to_z = lambda s: (1 + s) / (1 - s)
    z2, p2 = to_z(zs), to_z(ps)
    b2, a2 = np.poly(z2).real, np.poly(p2).real
    # The gain at infinity of s, which is z = -1, is kept.
    at = lambda c: c[0] - c[1] + c[2]
    g = at(b) / at(a) * at(a2) / at(b2)
    return b2 * g, a2


def weigh(x, rate):
    for b, a in (section(*SHELF, rate), section(*HIGH, rate)):
        x = signal.lfilter(b, a, x)
    return x


def loudness(channels, weights, rate):
    y = [weigh(c, rate) for c in channels]
    n = len(y[0])
    hop = 0.1 * rate
    z = []
    k = 0
    edge = lambda k: int(np.floor(k * hop + 0.5))
    while edge(k + 4) <= n:
        lo, hi = edge(k), edge(k + 4)
        z.append(sum(w * np.mean(c[lo:hi] ** 2) for w, c in zip(weights, y)))
        k += 1
    z = np.array(z)
    l = -0.691 + 10 * np.log10(z)
    first = z[l > -70]
    gate = -0.691 + 10 * np.log10(first.mean()) - 10
    both = z[(l > -70) & (l > gate)]
    return -0.691 + 10 * np.log10(both.mean()), -0.691 + 10 * np.log10(z.mean()), gate, len(z), len(both)


def envelope(t):
    e = np.where(np.floor(t / 1.5) % 2 == 0, 0.5, 0.05 + 0.02 * np.sin(2 * np.pi * 0.37 * t))
    return np.where(t > 8, 1e-4 * e, e)


def left(t):  # loud and soft by turns, rich in frequencies
    return envelope(t) * (0.5 * np.sin(2 * np.pi * 53.7 * t) + 0.3 * np.sin(2 * np.pi * 971.3 * t + 1) + 0.2 * np.sin(2 * np.pi * 7013.1 * t + 2))


def right(t):
    return 0.3 * envelope(t) * np.sin(2 * np.pi * (200 + 40 * t) * t)


def main():
    print("kind,rate_hz,a,b,c,d,e")
    for rate in (44100, 48000, 96000):
        for f in (20, 38, 100, 500, 997, 1682, 3000, 10000, 20000):
            h = 1
            for b, a in (section(*SHELF, rate), section(*HIGH, rate)):
                h = h * signal.freqz(b, a, worN=[2 * np.pi * f / rate])[1][0]
            print(f"response,{rate},{f},{h.real:.15g},{h.imag:.15g},,")
    for rate in (44100, 48000, 96000, 11025):
        t = np.arange(round(9.73 * rate)) / rate
        l = loudness([left(t), right(t)], [1, 1.41], rate)
        print("loudness,%d,%.15g,%.15g,%.15g,%d,%d" % ((rate,) + l))
    # Two variants by recursion: how much louder the first one plays the left channel, with gates.
    rate = 48000
    x = left(np.arange(round(9.73 * rate)) / rate)
    ways = []
    for gain, low, high in ((0.7, 35, 15000), (0.4, 90, 3000)):
        y = signal.lfilter(*signal.butter(2, low, "high", fs=rate), x)
        ways.append(loudness([gain * signal.lfilter(*signal.butter(2, high, "low", fs=rate), y)], [1], rate))
    print("variants,%d,%.15g,%.15g,%.15g,," % (rate, ways[0][0], ways[1][0], ways[0][0] - ways[1][0]))
    for n, k, p in ((16, 12, 0.5), (10, 9, 0.5), (20, 15, 0.5), (25, 23, 0.7), (100, 59, 0.5), (1000, 700, 0.5), (7, 0, 0.3), (7, 7, 0.3)):
        print(f"binomial,,{n},{k},{p},{stats.binom.sf(k - 1, n, p):.15g},")
    for n in (5, 6, 7, 8, 9, 10, 12, 15, 16, 20, 25, 30, 40, 50, 60, 100):
        k = next(k for k in range(n + 1) if stats.binom.sf(k - 1, n, 0.5) < 0.05)
        print(f"needed,,{n},0.05,{k},,")
    # Guessing against a balanced order, answering A as often as B: 12 or more of 16 right.
    print(f"balanced,,16,12,{sum(stats.hypergeom.pmf(h, 16, 8, 8) for h in range(6, 9)):.15g},,")


main()
