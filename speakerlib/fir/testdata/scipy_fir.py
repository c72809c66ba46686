"""Writes scipy_fir.csv beside itself.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11:
    /usr/bin/python3 speakerlib/fir/testdata/scipy_fir.py
"""
import csv
import os

from scipy import signal

here = os.path.dirname(os.path.abspath(__file__))
s = lambda v: " ".join(repr(float(x)) for x in v)

with open(os.path.join(here, "scipy_fir.csv"), "w", newline="") as out:
    w = csv.writer(out, lineterminator="\n")
    w.writerow(["design", "number of taps", "edges_hz", "parameter", "gains", "weights", "taps"])
    for n in [31, 64, 255]:
        for window, par in [("boxcar", 0), ("hann", 0), ("hamming", 0), ("blackman", 0), ("kaiser", 7.3)]:
            win = (window, par) if window == "kaiser" else window
            for band, edges in [("lowpass", [3000.0]), ("highpass", [5000.0]), ("bandpass", [1500.0, 7000.0]), ("bandstop", [3000.0, 9000.0])]:
                if n % 2 == 0 and band in ("highpass", "bandstop"):
                    continue
                h = signal.firwin(n, edges, window=win, pass_zero=band, fs=48000)
                w.writerow([window + " " + band, n, s(edges), par, "", "", s(h)])
    for loss, width in [(15.0, 2000.0), (30.0, 1000.0), (60.0, 500.0), (96.0, 200.0)]:
        n, beta = signal.kaiserord(loss, width / 24000.0)
        w.writerow(["kaiserord", n, s([width]), loss, "", "", s([beta])])
    for n, edges, gains, weights in [(31, [0, 3000, 5000, 24000], [1, 0], [1, 1]), (95, [0, 2000, 3000, 9000, 10500, 24000], [0, 1, 0.25], [1, 2, 30]),
                                     (201, [0, 500, 900, 24000], [1, 0], [1, 10])]:
        h = signal.firls(n, edges, [g for g in gains for _ in (0, 1)], weight=weights, fs=48000)
        w.writerow(["firls", n, s(edges), 0, s(gains), s(weights), s(h)])
