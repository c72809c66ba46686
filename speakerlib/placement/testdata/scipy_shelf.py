# Shelves against what walls add, by SciPy's bounded least squares from many starts.
# Debian's Python 3.11, SciPy 1.10.1:
#   /usr/bin/python3 speakerlib/placement/testdata/scipy_shelf.py > speakerlib/placement/testdata/scipy_shelf.csv
# The source is 0.79 m above the floor; places are given by the distances of the front wall and
# of the left wall (0: none). Power by Waterhouse's closed form, c = 343 m/s. The reference
# has the floor alone. What a place adds re the reference counts where it adds something, and
# nothing does in a dip of the place. Shelves by the Audio EQ Cookbook (W3C Note, 2021) at 96 kHz.
import numpy as np
from scipy.optimize import least_squares

C, FS = 343.0, 96000.0
f = 20 * 2.0 ** (np.arange(0, 24 * 5 + 1) / 24)  # 20 ... 640 Hz
k = 2 * np.pi * f / C

def gain(front, left):
    total = np.zeros_like(f)
    xs = [0] + ([2 * front] if front else [])
    ys = [0] + ([2 * left] if left else [])
    for x in xs:
        for y in ys:
            for z in (0, 2 * 0.79):
                d = np.sqrt(x * x + y * y + z * z)
                total += np.sinc(k * d / np.pi)
    return 10 * np.log10(total)

def shelf(theta):
    f0, g, q = np.exp(theta)
    a = np.sqrt(g)
    w0 = 2 * np.pi * f0 / FS
    alpha = np.sin(w0) / (2 * q)
    c = np.cos(w0)
    b = [a * ((a + 1) - (a - 1) * c + 2 * np.sqrt(a) * alpha), 2 * a * ((a - 1) - (a + 1) * c), a * ((a + 1) - (a - 1) * c - 2 * np.sqrt(a) * alpha)]
    d = [(a + 1) + (a - 1) * c + 2 * np.sqrt(a) * alpha, -2 * ((a - 1) + (a + 1) * c), (a + 1) + (a - 1) * c - 2 * np.sqrt(a) * alpha]
    z = np.exp(-2j * np.pi * f / FS)
    return 20 * np.log10(abs((b[0] + b[1] * z + b[2] * z * z) / (d[0] + d[1] * z + d[2] * z * z)))

SITES = {
    "wall": [(0.3, 0), (0.4, 0), (0.5, 0)],
    "corner": [(0.3, 0.4), (0.4, 0.5), (0.5, 0.6)],
}
lo, hi = 25.0, 400.0
band = (f >= lo) & (f <= hi)
x = np.log(f[band])
w = np.empty_like(x)
for i in range(len(x)):
    w[i] = x[min(i + 1, len(x) - 1)] - x[max(i - 1, 0)]
w = np.sqrt(w / w.sum())
ref = np.maximum(0, gain(0, 0))

def added(here):
    return np.where(here < 0, 0, here - ref)

print("site,shelves,rms_before_dB,rms_dB,f0_Hz,gain_dB,q")
for name, places in SITES.items():
    targets = [added(gain(*p))[band] for p in places]
    for n in (1, 2):
        def residual(t):
            s = sum(shelf(t[3 * i : 3 * i + 3]) for i in range(n))[band]
            return np.concatenate([w / np.sqrt(len(places)) * (g + s) for g in targets])
        low = [np.log(lo / 2), np.log(10 ** (-12 / 20)) / n, np.log(0.4)] * n
        high = [np.log(hi), 0, np.log(np.sqrt(0.5))] * n
        best = None
        rng = np.random.default_rng(1)
        for _ in range(40):
            r = least_squares(residual, rng.uniform(low, high), bounds=(low, high), xtol=1e-14, ftol=1e-14, gtol=1e-14)
            if best is None or r.cost < best.cost:
                best = r
        before = np.sqrt(sum(np.sum((w * g) ** 2) for g in targets) / len(places))
        t = np.exp(best.x)
        for i in range(n):
            print(f"{name},{n},{before:.9f},{np.sqrt(2 * best.cost):.9f},{t[3*i]:.6f},{20*np.log10(t[3*i+1]):.6f},{t[3*i+2]:.6f}")
