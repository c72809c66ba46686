"""Writes integers.csv beside itself: sections in fixed point, in Python's integers.

Made with Python 3.11 (SciPy 1.10.1 for the check of the designs):
    /usr/bin/python3 speakerlib/dsp/testdata/integers.py

High-pass of second order, 40 Hz, Q 0.7 at 48 kHz by the bilinear transform, in direct
form I without and with error feedback of both orders, in transposed direct form II and in
state-variable form; signal Q0.23, coefficients Q1.22, rounding to the nearest, half up,
saturation. Columns: structure, order of error feedback, coefficients as words, input and output words.
"""
import csv
import math
import os
import random

from scipy import signal

fs, f0, q0 = 48000.0, 40.0, 0.7
K = math.tan(math.pi * f0 / fs)
d = 1 + K / q0 + K * K
b0 = 1 / d
a1, a2 = 2 * (K * K - 1) / d, (1 - K / q0 + K * K) / d
want = signal.bilinear([1, 0, 0], [1, 1 / q0, 1], fs=1 / (2 * K))
assert max(abs(want[0][0] - b0), abs(want[1][1] - a1), abs(want[1][2] - a2)) < 1e-12

N = 22


def word(v):
    return round(v * 2**N)  # half to even


def sat(v):
    return max(-(2**23), min(2**23 - 1, v))


def rnd(acc, n=N):
    return (acc + 2 ** (n - 1)) >> n


random.seed(7)
x = [2**23 - 1] + [0] * 20 + [random.randrange(-(2**22), 2**22) for _ in range(60)] + [random.choice([-(2**23), 2**23 - 1]) for _ in range(60)] + [0] * 20

rows = []
B0, A1, A2 = word(b0), word(a1), word(a2)
B1, B2 = -2 * B0, B0  # the double zero at direct current
for order in (0, 1, 2):
    x1 = x2 = y1 = y2 = e1 = e2 = 0
    out = []
    for v in x:
        acc = B0 * v + B1 * x1 + B2 * x2 - A1 * y1 - A2 * y2
        acc += {0: 0, 1: e1, 2: 2 * e1 - e2}[order]
        r = rnd(acc)
        e1, e2 = acc - (r << N), e1
        y = sat(r)
        x1, x2, y1, y2 = v, x1, y, y1
        out.append(y)
    rows.append(["direct form I", order, [B0, B1, B2, A1, A2], out])

s1 = s2 = 0
out = []
for v in x:
    y = sat(rnd(B0 * v + (s1 << N)))
    s1 = sat(rnd((s2 << N) + B1 * v - A1 * y))
    s2 = sat(rnd(B2 * v - A2 * y))
    out.append(y)
rows.append(["transposed direct form II", 0, [B0, B1, B2, A1, A2], out])

g = math.sqrt(1 + a1 + a2)
G, Q, H = word(g), word((1 - a2) / g), word(b0)
s1 = s2 = 0
out = []
for v in x:
    h = sat(rnd((v << N) - Q * s1 - (s2 << N)))
    y = sat(rnd(H * h))
    s1 = sat(rnd((s1 << N) + G * h))
    s2 = sat(rnd((s2 << N) + G * s1))
    out.append(y)
rows.append(["state-variable form", 0, [G, Q, H, 0, 0], out])

with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "integers.csv"), "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["structure", "feedback", "words", "input", "output"])
    for name, feedback, c, out in rows:
        w.writerow([name, feedback, " ".join(map(str, c)), " ".join(map(str, x)), " ".join(map(str, out))])
