"""First- and second-order edge diffraction of a box in NumPy: the peer of the benchmarks, and stored values.

/usr/bin/python3 box_numpy.py values > box_numpy.csv     (two minutes)
OPENBLAS_NUM_THREADS=1 /usr/bin/python3 box_numpy.py time                (one thread)

Line integrals over z of P. Svensson, R. Fred and J. Vanderkooy, JASA 106 (1999), eqs 1 to 4, and P. Svensson, P. Calamia
and S. Nakanishi, Acta Acustica united with Acustica 95 (2009), written with acosh and all four terms of beta, so that nothing
is shared with the Go code but the geometry. Box 0.19 x 0.33 x 0.26 m, point source at (0, 0.07) on its front, reference point
(0, 0.05), far field, c = 343 m/s, e^{+jwt}; re half space. The values use many more nodes than the timing: 12000 an edge for
the first order, 240 for the second; directions in a plane of a face take the mean of both sides.
"""
import sys
import time
import numpy as np

C = 343.0
W, H, D = 0.19, 0.33, 0.26
SRC = np.array([0.0, 0.07, 0.0])
REF = np.array([0.0, 0.05, 0.0])
V = np.array([[x, y, z] for z in (0, -D) for y in (-H / 2, H / 2) for x in (-W / 2, W / 2)])
FACES = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [1, 5, 7, 3], [3, 7, 6, 2], [2, 6, 4, 0]]
NU, OPEN = 2.0 / 3.0, 1.5 * np.pi


class Side:
    def __init__(self, face, a, b):
        self.face, self.a, self.b = face, a, b
        self.p = V[a]
        self.length = np.linalg.norm(V[b] - V[a])
        self.e = (V[b] - V[a]) / self.length
        f = FACES[face]
        n = np.cross(V[f[1]] - V[f[0]], V[f[2]] - V[f[1]])
        self.n = n / np.linalg.norm(n)
        self.t = np.cross(self.n, self.e)


SIDES = [Side(i, f[k], f[(k + 1) % 4]) for i, f in enumerate(FACES) for k in range(4)]
for s in SIDES:
    s.twin = next(o for o in SIDES if (o.a, o.b) == (s.b, s.a))


def directions():
    out = []
    for k in range(36):
        a = np.radians(10 * k)
        out.append([np.sin(a), 0, np.cos(a)])
    for k in range(36):
        if k not in (0, 18):
            a = np.radians(10 * k)
            out.append([0, np.sin(a), np.cos(a)])
    d = np.array(out)
    d[np.abs(d) < 1e-12] = 0
    return d


def front(x):
    """1 in front, 1/2 in the plane, 0 behind"""
    return np.where(x > 1e-9, 1.0, np.where(x < -1e-9, 0.0, 0.5))


def beta(theta, eta):
    """half of beta for a source on the face: two of its four terms"""
    sum = 0.0
    for phi in (np.pi + theta, np.pi - theta):
        s = np.where(np.abs(np.sin(NU * phi)) < 1e-12, 0.0, np.sin(NU * phi))
        den = np.cosh(NU * eta) - np.cos(NU * phi)
        sum = sum + np.where(s == 0, 0.0, s / np.where(den == 0, 1.0, den))
    return sum


def angle(x, y):
    t = np.arctan2(y, x)
    return np.where(t < -1e-12, t + 2 * np.pi, np.maximum(t, 0))


def seen(s, d):
    return np.maximum(front(d @ s.n), front(d @ s.twin.n))


def first_weights(s, z, w, d):
    """weights and delays (m) of the nodes of one edge for all directions"""
    q = SRC - s.p
    zs, rs = q @ s.e, q @ s.t
    m = np.hypot(z - zs, rs)
    cos, x, y = d @ s.e, d @ s.t, d @ s.n
    y = np.where(np.abs(y) < 1e-9, 0, y)
    sin = np.hypot(x, y)
    ok = sin > 1e-9
    sin = np.where(ok, sin, 1)
    eta = np.arccosh(np.maximum(1, (m[None, :] - np.outer(cos, z - zs)) / (rs * sin[:, None])))
    b = beta(angle(x, y)[:, None], eta)
    weight = -NU / (4 * np.pi) * (seen(s, d) * ok)[:, None] * b * (w / m)[None, :]
    pos = s.p[None, :] + z[:, None] * s.e[None, :]
    return weight, m[None, :] - d @ (pos - REF).T


def nodes(n, length):
    x, w = np.polynomial.legendre.leggauss(n)
    return (x + 1) * length / 2, w * length / 2


def direct(k, d):
    return front(d[:, 2])[:, None] * np.exp(1j * np.outer(d @ (SRC - REF), k))


def first(k, d, n, phase=None):
    phase = phase or cos_sin
    h = direct(k, d)
    for s in SIDES[:4]:
        z, w = n(s.length)
        weight, delay = first_weights(s, z, w, d)
        for r in range(len(d)):
            c, sn = phase(np.outer(k, delay[r]))
            h[r] += c @ weight[r] - 1j * (sn @ weight[r])
    return h


def cos_sin(turn):
    """cos and sin apart, which NumPy vectorises: several times as fast as the next"""
    return np.cos(turn), np.sin(turn)


def complex_exp(turn):
    e = np.exp(1j * turn)
    return e.real, e.imag


def second(k, d, n, phase=cos_sin, shared=True):
    """shared: the phases of the pairs are computed once for all directions; else the sum is taken as it is written"""
    h = np.zeros((len(d), len(k)), complex)
    for s1 in SIDES[:4]:
        q = SRC - s1.p
        zs, rs = q @ s1.e, q @ s1.t
        z1, w1 = n(s1.length)
        m1 = np.hypot(z1 - zs, rs)
        p1 = s1.p[None, :] + z1[:, None] * s1.e[None, :]
        for start, theta in ((s1, 0.0), (s1.twin, OPEN)):
            for s2 in SIDES:
                if s2.face != start.face or s2 is start:
                    continue
                z2, w2 = n(s2.length)
                p2 = s2.p[None, :] + z2[:, None] * s2.e[None, :]
                way = np.linalg.norm(p1[:, None, :] - p2[None, :, :], axis=2)
                # second point beside the first edge, first point beside the second
                u = p2 - s1.p
                zr, rr = u @ s1.e, np.hypot(u @ s1.t, u @ s1.n)
                eta1 = np.arccosh(np.maximum(1, (m1[:, None] * way + (z1 - zs)[:, None] * (z1[:, None] - zr[None, :])) / (rs * rr[None, :])))
                a = NU / (4 * np.pi) * beta(np.array(theta), eta1) * (w1 / m1)[:, None]
                u = p1 - s2.p
                zq, rq = u @ s2.e, u @ s2.t
                cos, x, y = d @ s2.e, d @ s2.t, d @ s2.n
                y = np.where(np.abs(y) < 1e-9, 0, y)
                sin = np.hypot(x, y)
                ok = sin > 1e-9
                sin = np.where(ok, sin, 1)
                th = angle(x, y)
                sight = seen(s2, d) * ok
                weight = np.zeros((len(d),) + way.shape)
                for r in np.nonzero(sight)[0]:
                    eta2 = np.arccosh(np.maximum(1, (way - cos[r] * (z2[None, :] - zq[:, None])) / (rq[:, None] * sin[r])))
                    weight[r] = sight[r] * NU / (4 * np.pi) * beta(th[r], eta2) * a * w2[None, :] / way
                path = m1[:, None] + way
                late = d @ (p2 - REF).T
                live = np.nonzero(sight)[0]
                weight = weight[live]
                if not shared:
                    for r, at in enumerate(live):
                        delay, flat = (path - late[at][None, :]).ravel(), weight[r].ravel()
                        for i in range(0, len(k), 20):
                            c, sn = phase(np.outer(k[i:i + 20], delay))
                            h[at, i:i + 20] += c @ flat - 1j * (sn @ flat)
                    continue
                for i, kk in enumerate(k):
                    # real weights: two real sums over the first edge
                    c, sn = phase(kk * path)
                    g = np.einsum("rij,ij->rj", weight, c) - 1j * np.einsum("rij,ij->rj", weight, sn)
                    h[live, i] += np.sum(g * np.exp(1j * kk * late[live]), axis=1)
    return h


def main():
    d = directions()
    per = 3.5 * 20000 / C
    count = lambda length: nodes(8 + int(np.ceil(per * length)), length)
    if sys.argv[1] == "time":
        k = 2 * np.pi * 20 * 1000 ** (np.arange(200) / 199) / C
        d7 = d[::10]  # every tenth direction, for what is slow
        for name, times, f in (
            ("first, complex exp", 1, lambda: first(k, d, count, complex_exp)),
            ("first, cos and sin", 1, lambda: first(k, d, count)),
            ("second as written, complex exp", 10, lambda: second(k, d7, count, complex_exp, False)),
            ("second as written, cos and sin", 10, lambda: second(k, d7, count, cos_sin, False)),
            ("second, shared phases, complex exp", 1, lambda: second(k, d, count, complex_exp)),
            ("second, shared phases, cos and sin", 1, lambda: second(k, d, count)),
        ):
            took = []
            for _ in range(3):
                t = time.process_time()
                f()
                took.append(time.process_time() - t)
            print("%-36s %.4f s of processor time (median of 3)" % (name, times * np.median(took)))
        return
    hz = np.array([50.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0, 20000.0])
    k = 2 * np.pi * hz / C
    one = first(k, d, lambda length: nodes_panels(length))
    two = second(k, d, lambda length: nodes(240, length))
    print("direction_x,direction_y,direction_z,f_hz,first_re,first_im,second_re,second_im")
    for r in range(len(d)):
        for i, f in enumerate(hz):
            print("%.12g,%.12g,%.12g,%g,%.9f,%.9f,%.9f,%.9f" % (*d[r], f, one[r, i].real, one[r, i].imag, two[r, i].real, two[r, i].imag))


def nodes_panels(length):
    """12000 nodes: 200 panels of 60"""
    x, w = np.polynomial.legendre.leggauss(60)
    h = length / 200
    z = (np.arange(200)[:, None] + (x[None, :] + 1) / 2) * h
    return z.ravel(), np.tile(w * h / 2, 200)


if __name__ == "__main__":
    main()
