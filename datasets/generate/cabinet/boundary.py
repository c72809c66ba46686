"""What the cabinet of the invented loudspeaker makes of its drivers and its vent, by boundary elements, up to 6 kHz.

cd datasets/generate/cabinet; OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 /usr/bin/python3 boundary.py > boundary.csv      (a quarter of an hour)

The solver is speakerlib/diffraction/testdata/box_bem.py, which shares nothing with the edge method of the library. The body is
the box with its front edges rounded by 8 mm; lines each 93.75 Hz, directions, diaphragms and units are those of cabinet.csv.
"""
import os
import sys
import time
import numpy as np

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../../speakerlib/diffraction/testdata"))
import box_bem as bem

bem.C = 343.8
SPACING, TO = 93.75, 6000.0
# name, face, y, radius, rings, softens above Hz (0: never), lag of the rim
DIAPHRAGMS = [("woofer", 0, 0.125 - 0.165, np.sqrt(138e-4 / np.pi), 4, 3500, 0.15),
              ("tweeter", 0, 0.270 - 0.165, np.sqrt(7.1e-4 / np.pi), 3, 14000, 0.10),
              ("vent", 1, 0.230 - 0.165, 0.027, 2, 0, 0.0)]
MESHES = [(2000, (4, 6e-3, 3, 0.8)), (np.inf, (5, 6e-3, 3, 0.9))]


def directions():
    out = []
    for a in range(0, 181, 10):
        out.append((a, 0))
        if a in (10, 40):
            out.append((a + 5, 0))
    for a in range(10, 180, 10):
        out += [(0, a), (0, -a)]
    return out


def rings(d):
    """places of each ring, its radius, its share of the area: Gauss's rule in r squared"""
    _, face, y, a, n, _, _ = d
    u, w = bem.gauss(n)
    for r, share in zip(a * np.sqrt(u), w):
        t = 2 * np.pi * (np.arange(16) + 0.5) / 16
        yield np.stack([r * np.cos(t), y + r * np.sin(t), np.full(16, 0.0 if face == 0 else -bem.D)], 1), r, share


def shares(d, f):
    _, _, _, a, _, soften, lag = d
    part = []
    for _, r, w in rings(d):
        if soften:
            w /= 1 + (r / (a / (1 + (f / soften)**2)**0.25))**8 / 8
        part.append(w * np.exp(-2j * np.pi * f / bem.C * lag * r))
    return np.array(part) / sum(part)


class Solver(bem.Solver):
    """with places in the front and in the back"""

    def __init__(self, mesh, places, patches, inside, chief):
        super().__init__(mesh, [], inside, chief)
        self.at = bem.Kernel(mesh, places, patches)


def solve(f):
    degree, h, ratio, share = next(m for to, m in MESHES if f <= to)
    m = bem.Mesh(bem.box(0.008, h, ratio, min(0.12, share * bem.C / f)), degree)
    n = bem.chief_points(f, bem.W * bem.H * bem.D)
    places, patches = [], []
    for d in DIAPHRAGMS:
        for at, _, _ in rings(d):
            places.append(at)
            patches += [d[1]] * len(at)
    s = Solver(m, np.concatenate(places), np.array(patches), bem.points_inside(n + 10, 1, (np.array([bem.W / 2, bem.H / 2, -bem.D]), 0)), n)
    rec = []
    for side, up in directions():
        a, b = np.radians(side), np.radians(up)
        rec.append(("near", bem.TWEETER + np.array([np.sin(a) * np.cos(b), np.sin(b), np.cos(a) * np.cos(b)])))
    p, _, left = s.solve(2 * np.pi * f / bem.C, rec, bem.TWEETER)
    means = p.reshape(-1, 16, len(rec)).mean(1) / 2
    out, k = [], 0
    for d in DIAPHRAGMS:
        out.append(shares(d, f) @ means[k:k + d[4]])
        k += d[4]
    return out, left, m.n


if __name__ == "__main__":
    for line in __doc__.strip().splitlines()[:3:2]:
        print("#", line)
    print("side_deg,up_deg,frequency_Hz,woofer_re,woofer_im,tweeter_re,tweeter_im,vent_re,vent_im")
    table = {}
    lines = [SPACING * i for i in range(1, int(TO / SPACING) + 1)]
    for f in [float(a) for a in sys.argv[1:]] or lines:
        t = time.time()
        h, left, n = solve(f)
        for j, d in enumerate(directions()):
            table[d, f] = [x[j] for x in h]
        print("%g Hz: %d unknowns, left inside %.1e, %.0f s" % (f, n, left, time.time() - t), file=sys.stderr, flush=True)
    for (side, up), f in sorted(table, key=lambda k: (directions().index(k[0]), k[1])):
        print("%g,%g,%g,%s" % (side, up, f, ",".join("%.5f,%.5f" % (x.real, x.imag) for x in table[(side, up), f])))
