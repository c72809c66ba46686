"""Writes scipy_synthesis.csv, mpmath_elliptic.csv, scipy_orders.csv,
scipy_digital.csv and scipy_digital_orders.csv beside itself.

Made with SciPy 1.10.1, NumPy 1.24.2, mpmath 1.2.1, Python 3.11:
    /usr/bin/python3 datasets/reference/scipy_synthesis.py
"""
import csv
import os

import mpmath as mp
import numpy as np
from scipy import signal

here = os.path.dirname(os.path.abspath(__file__))


def f(x):
    return repr(float(x))


def rows(name, head):
    out = open(os.path.join(here, name), "w", newline="")
    w = csv.writer(out, lineterminator="\n")
    w.writerow(head)
    return out, w


# Analogue filters of all families and bands: their response at some frequencies,
# from SciPy's zeros, poles and gain. Edges in rad/s for SciPy, hertz here.
out, w = rows("scipy_synthesis.csv", ["family", "order", "ripple_dB", "stop_dB", "band", "lo_hz", "hi_hz", "f_hz", "re", "im"])
for ftype in ["butter", "cheby1", "cheby2", "ellip"]:
    for n in [1, 2, 3, 4, 5, 7, 8]:
        for rp, rs in [(0.1, 40.0), (1.0, 75.0)]:
            for band, lo, hi in [("lowpass", 0.0, 1000.0), ("highpass", 1000.0, 0.0), ("bandpass", 300.0, 3400.0),
                                 ("bandpass", 990.0, 1010.0), ("bandstop", 45.0, 55.0), ("bandstop", 500.0, 2500.0)]:
                edges = [x for x in (lo, hi) if x > 0]
                wn = 2 * np.pi * np.array(edges)
                if len(edges) == 1:
                    wn = wn[0]
                z, p, k = signal.iirfilter(n, wn, rp=rp, rs=rs, btype=band, analog=True, ftype=ftype, output="zpk")
                c = np.sqrt(edges[0] * edges[-1])
                for x in [0.31 * c, 0.97 * edges[0], c * 1.003, 1.02 * edges[-1], 2.7 * edges[-1]]:
                    _, h = signal.freqs_zpk(z, p, k, worN=[2 * np.pi * x])
                    w.writerow([ftype, n, rp, rs, band, f(lo), f(hi), f(x), f(h[0].real), f(h[0].imag)])
out.close()

# Elliptic poles and zeros with 60 digits, straight from the definition: theta
# functions of mpmath, the modulus from the nome of the degree equation.
mp.mp.dps = 60
out, w = rows("mpmath_elliptic.csv", ["order", "ripple_dB", "stop_dB", "kind", "re", "im"])
for n in [1, 2, 3, 4, 5, 8, 9, 12, 17, 24]:
    for rp, rs in [("0.01", "30"), ("0.5", "60"), ("3", "10"), ("1", "140")]:
        eps = mp.sqrt(mp.mpf(10) ** (mp.mpf(rp) / 10) - 1)
        k1 = eps / mp.sqrt(mp.mpf(10) ** (mp.mpf(rs) / 10) - 1)
        K1, K1p = mp.ellipk(k1 ** 2), mp.ellipk(1 - k1 ** 2)
        want = K1p / K1 / n
        q = mp.exp(-mp.pi * want)
        k = (mp.jtheta(2, 0, q) / mp.jtheta(3, 0, q)) ** 2
        K = mp.ellipk(k ** 2)
        assert abs(mp.ellipk(1 - k ** 2) / K - want) < mp.mpf("1e-35")
        v0 = mp.ellipf(mp.atan(1 / eps), 1 - k1 ** 2) / (n * K1)

        def cd(u):
            return mp.ellipfun("cd", u * K, m=k ** 2)
        for i in range(1, (n + 1) // 2 + 1):
            u = mp.mpf(2 * i - 1) / n
            p = mp.j * cd(u - mp.j * v0)
            if 2 * i - 1 == n:
                w.writerow([n, rp, rs, "pole", f(-abs(p.real)), f(0)])
                continue
            w.writerow([n, rp, rs, "pole", f(-abs(p.real)), f(abs(p.imag))])
            w.writerow([n, rp, rs, "zero", f(0), f(1 / (k * mp.re(cd(u))))])
out.close()

# Lowest orders of masks.
out, w = rows("scipy_orders.csv", ["family", "band", "pass_lo", "pass_hi", "out_lo", "out_hi", "ripple_dB", "stop_dB", "order"])
for band, pb, sb in [("lowpass", [1000.0], [1700.0]), ("lowpass", [1000.0], [4000.0]), ("highpass", [80.0], [45.0]),
                     ("bandpass", [300.0, 3000.0], [200.0, 3600.0]), ("bandpass", [300.0, 3000.0], [100.0, 9000.0]),
                     ("bandstop", [40.0, 63.0], [48.0, 52.0]), ("bandstop", [300.0, 5000.0], [600.0, 3000.0])]:
    for rp, rs in [(0.1, 40.0), (1.0, 60.0), (3.0, 96.0)]:
        for name, fn in [("butter", signal.buttord), ("cheby1", signal.cheb1ord), ("cheby2", signal.cheb2ord), ("ellip", signal.ellipord)]:
            a = pb[0] if len(pb) == 1 else pb
            b = sb[0] if len(sb) == 1 else sb
            n, _ = fn(a, b, rp, rs, analog=True)
            w.writerow([name, band, f(pb[0]), f(pb[-1]), f(sb[0]), f(sb[-1]), rp, rs, n])
out.close()

# Digital filters by prewarped edges: coefficients in second-order sections would
# depend on the pairing, so responses from zeros, poles and gain.
out, w = rows("scipy_digital.csv", ["family", "order", "ripple_dB", "stop_dB", "band", "lo_hz", "hi_hz", "fs_hz", "f_hz", "re", "im"])
for ftype in ["cheby1", "cheby2", "ellip", "butter"]:
    for n in [2, 3, 6]:
        for band, lo, hi, fs in [("lowpass", 0.0, 9000.0, 44100.0), ("highpass", 400.0, 0.0, 48000.0),
                                 ("bandpass", 300.0, 19000.0, 48000.0), ("bandstop", 5000.0, 8000.0, 96000.0)]:
            edges = [x for x in (lo, hi) if x > 0]
            z, p, k = signal.iirfilter(n, edges if len(edges) == 2 else edges[0], rp=0.5, rs=50.0, btype=band, ftype=ftype, output="zpk", fs=fs)
            for x in [0.5 * edges[0], edges[0], np.sqrt(edges[0] * edges[-1]) * 1.01, edges[-1], min(1.3 * edges[-1], 0.49 * fs)]:
                _, h = signal.freqz_zpk(z, p, k, worN=[x], fs=fs)
                w.writerow([ftype, n, 0.5, 50.0, band, f(lo), f(hi), f(fs), f(x), f(h[0].real), f(h[0].imag)])
out.close()

# Lowest orders of digital masks.
out, w = rows("scipy_digital_orders.csv", ["family", "band", "pass_lo", "pass_hi", "out_lo", "out_hi", "ripple_dB", "stop_dB", "fs_hz", "order"])
for band, pb, sb in [("lowpass", [18000.0], [21000.0]), ("highpass", [400.0], [250.0]), ("bandpass", [3000.0, 19000.0], [2000.0, 22000.0]),
                     ("bandstop", [4000.0, 9000.0], [5000.0, 7000.0])]:
    for rp, rs in [(0.1, 40.0), (1.0, 60.0)]:
        for name, fn in [("butter", signal.buttord), ("cheby1", signal.cheb1ord), ("cheby2", signal.cheb2ord), ("ellip", signal.ellipord)]:
            a = pb[0] if len(pb) == 1 else pb
            b = sb[0] if len(sb) == 1 else sb
            n, _ = fn(a, b, rp, rs, fs=48000)
            w.writerow([name, band, f(pb[0]), f(pb[-1]), f(sb[0]), f(sb[-1]), rp, rs, 48000.0, n])
out.close()
