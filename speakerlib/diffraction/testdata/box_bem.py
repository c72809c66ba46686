"""Rigid boxes with sharp, rounded and chamfered front edges by boundary elements: what the edge diffraction is held against.

OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 /usr/bin/python3 box_bem.py sphere               (the solver against the exact series, 5 s)
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 /usr/bin/python3 box_bem.py box > box_bem.csv    (four bodies; half an hour of one core, 5 GB)
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 /usr/bin/python3 box_bem.py box radius8 1000 2000     (one body at some frequencies)

Box 190 x 330 x 378 mm, front centred on the origin and facing +z: sharp, and with the four edges around the front rounded by
8 mm and by 25 mm (quarters of a cylinder that meet in a mitre; all other edges sharp), and with a plane at 45 degrees there that
takes 10 mm off both faces (chamfer10: four trapezia that meet in a mitre). Sources are points in the front: tweeter (0, 0.105),
woofer (0, -0.040). c = 343 m/s, e^{+jwt}.

By reciprocity (a point source and the pressure at the rigid wall may change places) the bodies are lit from the receivers and
the total pressure is read at the place of the source, so that no singular source lies on the surface and one matrix serves all
receivers. Kirchhoff-Helmholtz equation of the total pressure p on the rigid surface, normal n into the air,

    p(x)/2 = p_in(x) + int p(y) dG(x,y)/dn_y dS,   G = exp(-jkr)/(4 pi r)

by collocation with discontinuous elements of 4 to 7 values in each direction, at the Gauss points, which are never on an edge.
Elements shrink geometrically towards the edges. Near an element the integrals are found by bisecting it until every part is
smaller than its distance from x, or below 3e-9 of the surface, where x is on a curved element itself. Resonances of the
interior are excluded by points inside, where the field must vanish (CHIEF, H. A. Schenck, J. Acoust. Soc. Am. 44, 1968, from
memory), added as c*c with rows c of unit length. Mirror symmetry: even in x, as the sources are on x = 0; in y an even and an
odd problem. With the place of the source x0 in the plane front, p(x0) = 2 p_in(x0) + 2 int over the other faces.

h_re + j h_im is p at the receiver re that of the same volume velocity in an infinite baffle at the tweeter's point, at the
receiver's distance R from there, with R/c taken out. mesh_db: change of the level from a coarse to a fine mesh, which is
mostly the error of the coarse one.

Errors: on a sphere of 150 mm 1e-5 of the incident pressure at ka = 0.2 and 1, 3e-5 at pi, 1e-4 at the resonance 4.4934, 5e-4
at 6 with 24 elements of 4 x 4 on the quarter. On the sharp box at 3 kHz three times the points inside change the fine mesh by 3e-5 dB to 60
degrees and 5e-4 dB behind, and a third finer mesh by as much; what is left at other points inside is below 4e-4 to 5 kHz and
1.2e-3 at 10 kHz. With the chamfer, finer meshes with three times the points inside change it by 5e-4 dB to 60 degrees and 2e-3
dB elsewhere, to 4 kHz. Believed: 0.002 dB to 60 degrees and 0.01 dB behind to 5 kHz, 0.01 and 0.05 dB to 10 kHz, nulls apart.
"""
import sys
import time
import numpy as np
import scipy.linalg as sl

C = 343.0
W, H, D = 0.190, 0.330, 0.378
TWEETER, WOOFER = np.array([0, 0.105, 0.0]), np.array([0, -0.040, 0.0])
IMAGES = [(1, 1), (-1, 1), (1, -1), (-1, -1)]


def gauss(n):
    x, w = np.polynomial.legendre.leggauss(n)
    return (x + 1) / 2, w / 2


def lagrange(nodes, x):
    """values at x of the polynomials that are 1 at one node and 0 at the others: [x, node]"""
    out = np.ones((len(x), len(nodes)))
    for i, a in enumerate(nodes):
        for j, b in enumerate(nodes):
            if i != j:
                out[:, i] *= (x - b) / (a - b)
    return out


def graded(a, b, h, ratio, most, left, right):
    """breaks from a to b: a first element of h at each graded end, growing by the ratio up to the largest size"""
    length, ends, start = b - a, [], h
    def run(limit):
        out, at, step = [], 0.0, start
        while step < most and at + step * (1 + 0.6 * ratio) < limit:
            at += step
            out.append(at)
            step *= ratio
        return out, at
    half = length / 2 if left and right else length
    lo, at_lo = run(half) if left else ([], 0.0)
    hi, at_hi = run(half) if right else ([], 0.0)
    rest = length - at_lo - at_hi
    n = max(1, int(np.ceil(rest / most - 1e-9)))
    mid = [at_lo + rest * i / n for i in range(1, n)]
    return np.array([a] + [a + x for x in lo] + [a + x for x in mid] + [b - x for x in hi[::-1]] + [b])


class Patch:
    """a face of the quarter body x, y > 0, over a rectangle of u and v"""

    def __init__(self, name, where, curved, us, vs):
        self.name, self.where, self.curved, self.us, self.vs = name, where, curved, us, vs


def plane(axis, at, sign, u_axis, v_axis):
    def where(u, v):
        p = np.zeros(u.shape + (3,))
        p[..., axis], p[..., u_axis], p[..., v_axis] = at, u, v
        n = np.zeros(u.shape + (3,))
        n[..., axis] = sign
        return p, n
    return where


def arc(axis, radius):
    """the rounded front edge beside axis 0 (x) or 1 (y): u the angle from the front, v along the edge re its length"""
    across, along = ((W, H), (H, W))[axis]

    def where(u, v):
        s, c = np.sin(u), np.cos(u)
        half = along / 2 - radius * (1 - s)
        p, n = np.zeros(u.shape + (3,)), np.zeros(u.shape + (3,))
        p[..., axis], p[..., 1 - axis], p[..., 2] = across / 2 - radius * (1 - s), v * half, -radius * (1 - c)
        n[..., axis], n[..., 2] = s, c
        return p, n * (radius * half)[..., None]
    return where


def bevel(axis, chamfer):
    """the chamfered front edge beside axis 0 (x) or 1 (y): u across it from the front in 0 ... 1, v along the edge re its length"""
    across, along = ((W, H), (H, W))[axis]

    def where(u, v):
        half = along / 2 - chamfer * (1 - u)
        p, n = np.zeros(u.shape + (3,)), np.zeros(u.shape + (3,))
        p[..., axis], p[..., 1 - axis], p[..., 2] = across / 2 - chamfer * (1 - u), v * half, -chamfer * u
        n[..., axis], n[..., 2] = chamfer * half, chamfer * half
        return p, n
    return where


def box(radius, chamfer, h, ratio, most):
    if chamfer > 0:
        x, y, z = (lambda r: graded(0, W / 2 - r, h, ratio, most, False, True)), \
            (lambda r: graded(0, H / 2 - r, h, ratio, most, False, True)), \
            graded(-D, -chamfer, h, ratio, most, True, True)
        across = graded(0, 1, h / (chamfer * np.sqrt(2)), ratio, 1, True, True)
        return [
            Patch("front", plane(2, 0, 1, 0, 1), False, x(chamfer), y(chamfer)),
            Patch("back", plane(2, -D, -1, 0, 1), False, x(0), y(0)),
            Patch("side", plane(0, W / 2, 1, 1, 2), False, y(0), z),
            Patch("top", plane(1, H / 2, 1, 0, 2), False, x(0), z),
            Patch("bevel x", bevel(0, chamfer), False, across, y(0) / (H / 2)),
            Patch("bevel y", bevel(1, chamfer), False, across, x(0) / (W / 2)),
        ]
    near = max(h, radius / 3)  # beside the tangent of a rounding p is smooth but changes over the radius
    x, y, z = (lambda r: graded(0, W / 2 - r, h if r == 0 else near, ratio, most, False, True)), \
        (lambda r: graded(0, H / 2 - r, h if r == 0 else near, ratio, most, False, True)), \
        graded(0, D - radius, h, ratio, most, False, True)
    if radius == 0:
        z = graded(-D, 0, h, ratio, most, True, True)
    else:
        z = np.concatenate([graded(-D, -D / 2, h, ratio, most, True, False), graded(-D / 2, -radius, near, ratio, most, False, True)[1:]])
    out = [
        Patch("front", plane(2, 0, 1, 0, 1), False, x(radius), y(radius)),
        Patch("back", plane(2, -D, -1, 0, 1), False, x(0), y(0)),
        Patch("side", plane(0, W / 2, 1, 1, 2), False, y(0), z),
        Patch("top", plane(1, H / 2, 1, 0, 2), False, x(0), z),
    ]
    if radius > 0:
        step = min(most, radius)
        turns = np.linspace(0, np.pi / 2, 1 + max(2, int(np.ceil(radius * np.pi / 2 / step))))
        out.append(Patch("arc x", arc(0, radius), True, turns, y(0) / (H / 2)))
        out.append(Patch("arc y", arc(1, radius), True, turns, x(0) / (W / 2)))
    return out


def sphere(a, most):
    def bulge(axis, sign, u_axis, v_axis):
        flat = plane(axis, sign, sign, u_axis, v_axis)

        def where(u, v):
            p, _ = flat(u, v)
            l = np.linalg.norm(p, axis=-1)[..., None]
            return a * p / l, a * a * p / l**4
        return where
    n = int(np.ceil(a * np.pi / 4 / most))
    half, full = np.linspace(0, 1, n + 1), np.linspace(-1, 1, 2 * n + 1)
    return [Patch("front", bulge(2, 1, 0, 1), True, half, half), Patch("back", bulge(2, -1, 0, 1), True, half, half),
            Patch("side", bulge(0, 1, 1, 2), True, half, full), Patch("top", bulge(1, 1, 0, 2), True, half, full)]


class Mesh:
    def __init__(self, patches, degree):
        self.patches, self.p = patches, degree
        g, w = gauss(degree)
        self.nodes = g
        cells = [(i, a, b, c, d) for i, q in enumerate(patches) for a, b in zip(q.us[:-1], q.us[1:]) for c, d in zip(q.vs[:-1], q.vs[1:])]
        self.patch = np.array([c[0] for c in cells])
        self.rect = np.array([c[1:] for c in cells])
        u, v = np.meshgrid(g, g, indexing="ij")
        ww = np.outer(w, w).ravel()
        pos, nor = self.points(np.arange(len(cells)), self.rect, u.ravel(), v.ravel())
        size = (self.rect[:, 1] - self.rect[:, 0]) * (self.rect[:, 3] - self.rect[:, 2])
        self.x = pos.reshape(-1, 3)
        self.nw = (nor * (ww[None, :] * size[:, None])[..., None]).reshape(-1, 3)
        self.n = len(self.x)
        self.area = 4 * np.linalg.norm(self.nw, axis=1).sum()

    def points(self, cell, rect, u, v):
        """positions and n·J at (u, v) in 0 … 1 of the rectangles [m, 4] of the elements; [m, len(u), 3]"""
        uu = rect[:, :1] + (rect[:, 1:2] - rect[:, :1]) * u
        vv = rect[:, 2:3] + (rect[:, 3:] - rect[:, 2:3]) * v
        pos, nor = np.empty(uu.shape + (3,)), np.empty(uu.shape + (3,))
        which = self.patch[cell]
        for i, q in enumerate(self.patches):
            m = which == i
            if m.any():
                pos[m], nor[m] = q.where(uu[m], vv[m])
        return pos, nor


class Kernel:
    """int over the elements and their mirror images of the basis times dG/dn, for points x"""

    def __init__(self, mesh, x, own=None):
        """own: the patch on which each point lies, whose integral is 0 if it is a plane"""
        self.mesh, self.x = mesh, x
        self.own = np.full(len(x), -1) if own is None else own
        self.tiny = 3e-9 * mesh.area
        self.near = [self.prepare(i) for i in range(4)]

    def coplanar(self, xi, cell, image):
        flat = np.array([not q.curved for q in self.mesh.patches])
        names = np.array([q.name for q in self.mesh.patches])
        same = (self.own[xi] == self.mesh.patch[cell]) & flat[self.mesh.patch[cell]]
        # an image of a front or back is in the plane of the face itself, that of a side or bevel in x is not if x changes its sign
        sx, sy = IMAGES[image]
        name = names[self.mesh.patch[cell]]
        side, top = (name == "side") | (name == "bevel x"), (name == "top") | (name == "bevel y")
        return same & ~(side & (sx < 0)) & ~(top & (sy < 0))

    def prepare(self, image):
        """parts of elements near the points: lists of (pair, rectangle) with quadrature points"""
        m = self.mesh
        x = self.x * np.array([*IMAGES[image], 1])
        t = np.array([0, 0.5, 1.0])
        u, v = [a.ravel() for a in np.meshgrid(t, t, indexing="ij")]

        def ball(cell, rect):
            pos, _ = m.points(cell, rect, u, v)
            c = pos[:, 4]
            return c, np.linalg.norm(pos - c[:, None], axis=2).max(axis=1), \
                np.linalg.norm(pos[:, 7] - pos[:, 1], axis=1) > np.linalg.norm(pos[:, 5] - pos[:, 3], axis=1)
        cells = np.arange(len(m.rect))
        c, r, _ = ball(cells, m.rect)
        dist = np.linalg.norm(x[:, None] - c[None], axis=2)
        xi, ci = np.nonzero(dist < 3.2 * r[None])
        keep = ~self.coplanar(xi, ci, image)
        skip = (xi[~keep], ci[~keep])
        xi, ci = xi[keep], ci[keep]
        pairs = np.arange(len(xi))
        done_pair, done_rect = [], []
        pair, rect = pairs, m.rect[ci]
        while len(pair):
            c, r, tall = ball(ci[pair], rect)
            split = np.linalg.norm(x[xi[pair]] - c, axis=1) < 2.2 * r
            split &= r * r >= self.tiny  # the rule is good enough for what is as small as that
            done_pair.append(pair[~split])
            done_rect.append(rect[~split])
            pair, rect, tall = pair[split], rect[split], tall[split]
            a, b = rect.copy(), rect.copy()
            um, vm = (rect[:, 0] + rect[:, 1]) / 2, (rect[:, 2] + rect[:, 3]) / 2
            a[tall, 1] = b[tall, 0] = um[tall]
            a[~tall, 3] = b[~tall, 2] = vm[~tall]
            pair, rect = np.concatenate([pair, pair]), np.concatenate([a, b])
        if not done_pair:
            return xi, ci, skip, pair, rect
        pair, rect = np.concatenate(done_pair), np.concatenate(done_rect)
        order = np.argsort(pair, kind="stable")
        return xi, ci, skip, pair[order], rect[order]

    def matrix(self, k):
        """[even in y, odd in y], len(x) by n"""
        m = self.mesh
        even, odd = np.zeros((len(self.x), m.n), complex), np.zeros((len(self.x), m.n), complex)
        for image, sign in enumerate(IMAGES):
            x = self.x * np.array([*sign, 1])
            out = np.empty((len(self.x), m.n), complex)
            for lo in range(0, len(x), 128):
                part = x[lo:lo + 128]
                d = m.x[None] - part[:, None]
                out[lo:lo + 128] = weight(d, m.nw[None], k)
            xi, ci, skip, pair, rect = self.near[image]
            blocks = out.reshape(len(x), -1, m.p**2)
            blocks[skip] = 0
            blocks[xi, ci] = self.close(x, xi, ci, pair, rect, k)
            even += out
            odd += out if sign[1] > 0 else -out
        return even, odd

    def close(self, x, xi, ci, pair, rect, k):
        m = self.mesh
        q = m.p + 1
        g, w = gauss(q)
        u, v = [a.ravel() for a in np.meshgrid(g, g, indexing="ij")]
        ww = np.outer(w, w).ravel()
        total = np.zeros((len(xi), m.p, m.p), complex)
        for lo in range(0, len(pair), 20000):
            pr, rc = pair[lo:lo + 20000], rect[lo:lo + 20000]
            cell = ci[pr]
            pos, nor = m.points(cell, rc, u, v)
            nor *= (ww[None] * ((rc[:, 1] - rc[:, 0]) * (rc[:, 3] - rc[:, 2]))[:, None])[..., None]
            value = weight(pos - x[xi[pr]][:, None], nor, k).reshape(-1, q, q)
            whole = m.rect[cell]

            def basis(a, b):
                lo_, hi_ = whole[:, a], whole[:, b]
                t = (rc[:, a:a + 1] + (rc[:, b:b + 1] - rc[:, a:a + 1]) * g - lo_[:, None]) / (hi_ - lo_)[:, None]
                return lagrange(m.nodes, t.ravel()).reshape(len(rc), q, m.p)
            bu, bv = basis(0, 1), basis(2, 3)
            value = np.matmul(np.matmul(bu.transpose(0, 2, 1), value), bv)
            first = np.flatnonzero(np.r_[True, pr[1:] != pr[:-1]])
            total[pr[first]] += np.add.reduceat(value, first, axis=0)
        return total.reshape(len(xi), m.p**2)


def weight(d, nw, k):
    """dG/dn · weight with d = y − x"""
    r2 = np.einsum("...i,...i", d, d)
    r = np.sqrt(r2)
    with np.errstate(invalid="ignore", divide="ignore"):  # a point and itself, which is near and written over
        a = -np.einsum("...i,...i", d, nw) / (4 * np.pi * r2 * r)
    kr = k * r
    c, s = np.cos(kr), np.sin(kr)
    out = np.empty(r.shape, complex)  # (1 + jkr)·(c − js)
    out.real = a * (c + kr * s)
    out.imag = a * (kr * c - s)
    return out


def incident(x, receivers, reference, k):
    """field of sources at the receivers, 1 at the reference; [x, receiver]"""
    out = np.empty((len(x), len(receivers)), complex)
    for i, (kind, at) in enumerate(receivers):
        if kind == "far":
            out[:, i] = np.exp(1j * k * ((x - reference) @ at))
        else:
            r, r0 = np.linalg.norm(x - at, axis=1), np.linalg.norm(at - reference)
            out[:, i] = r0 / r * np.exp(-1j * k * (r - r0))
    return out


def parts(x, receivers, reference, k):
    """what of the incident field is even in x, and even or odd in y"""
    f = [incident(x * np.array([sx, sy, 1]), receivers, reference, k) for sx, sy in IMAGES]
    return (f[0] + f[1] + f[2] + f[3]) / 4, (f[0] + f[1] - f[2] - f[3]) / 4


class Solver:
    def __init__(self, mesh, places, inside, chief):
        """places on plane faces where p is wanted; points inside the quarter, of which the first are in the equations"""
        self.mesh, self.chief = mesh, chief
        own = np.repeat(mesh.patch, mesh.p**2)
        self.on = Kernel(mesh, mesh.x, own)
        self.at = Kernel(mesh, places, np.zeros(len(places), int)) if len(places) else None
        self.inside = Kernel(mesh, inside)

    def solve(self, k, receivers, reference):
        """p at the places and on the surface, and the largest field that is left inside"""
        m, nc = self.mesh, self.chief
        mats, ins = self.on.matrix(k), self.inside.matrix(k)
        rhs, rin = parts(m.x, receivers, reference, k), parts(self.inside.x, receivers, reference, k)
        if self.at:
            ats, rat = self.at.matrix(k), parts(self.at.x, receivers, reference, k)
        result, surface, left = 0, [], 0
        for par in range(2):
            # A p = b and c p = d as (A + c* c) p = b + c* d, with rows c of unit length
            c = ins[par][:nc]
            size = np.linalg.norm(c, axis=1)[:, None]
            c, d = c / size, -rin[par][:nc] / size
            a = c.conj().T @ c - mats[par]
            a[np.arange(m.n), np.arange(m.n)] += 0.5
            b = rhs[par] + c.conj().T @ d
            p = sl.lu_solve(sl.lu_factor(a, overwrite_a=True, check_finite=False), b, check_finite=False)
            left = max(left, np.abs(ins[par][nc:] @ p + rin[par][nc:]).max())
            surface.append(p)
            if self.at:
                result = result + 2 * (rat[par] + ats[par] @ p)
        return result, surface, left


def points_inside(n, seed, scale):
    r = np.random.default_rng(seed)
    return (0.1 + 0.75 * r.random((n, 3))) * scale[0] + scale[1]


def chief_points(f, volume):
    return 6 + int(1.5 * 4 * np.pi / 3 * volume * (f / C)**3 / 4)


def sphere_exact(x, a, receivers, k):
    """total pressure on a rigid sphere, incident field 1 at its centre; P. M. Morse and K. U. Ingard 1968 (from memory)"""
    from scipy.special import spherical_jn, spherical_yn, eval_legendre
    n = np.arange(int(k * a) + 40)
    h = lambda z, d=False: spherical_jn(n, z, d) - 1j * spherical_yn(n, z, d)
    out = np.empty((len(x), len(receivers)), complex)
    for i, (kind, at) in enumerate(receivers):
        r0 = np.linalg.norm(at)
        mu = np.clip((x @ at) / r0 / a, -1, 1)
        pn = eval_legendre(n[:, None], mu[None])
        if kind == "far":
            g = (2 * n + 1) * 1j**(n - 1) / ((k * a)**2 * h(k * a, True))
        else:
            g = (2 * n + 1) * (-k / (k * a)**2) * h(k * r0) / h(k * a, True) * r0 * np.exp(1j * k * r0)
        out[:, i] = g @ pn
    return out


def check_sphere():
    a = 0.15
    rec = [("far", np.array([0, 0, 1.0])), ("far", np.array([np.sin(0.7), 0, np.cos(0.7)])), ("far", np.array([0, -0.6, -0.8])), ("near", np.array([0, 0.6, 0.8]))]
    print("ka, elements, unknowns, largest error of the pressure on the sphere re the incident one, field left inside, s")
    for ka in (0.2, 1, np.pi, 4.4934, 6, 9):
        for most in (0.12, 0.06):
            t = time.time()
            m = Mesh(sphere(a, most), 4)
            f = ka * C / (2 * np.pi * a)
            n = chief_points(f, 4 / 3 * np.pi * a**3)
            s = Solver(m, [], points_inside(n + 10, 1, (0.55 * a, 0 * a)), n)
            _, p, left = s.solve(ka / a, rec, np.zeros(3))
            want = parts_of(lambda x: sphere_exact(x, a, rec, ka / a), m.x)
            err = [np.abs(p[i] - want[i]).max() for i in range(2)]
            print("%.4f %d %d %.1e %.1e %.1f" % (ka, len(m.rect), m.n, max(err), left, time.time() - t), flush=True)


def parts_of(field, x):
    f = [field(x * np.array([sx, sy, 1])) for sx, sy in IMAGES]
    return (f[0] + f[1] + f[2] + f[3]) / 4, (f[0] + f[1] - f[2] - f[3]) / 4


FREQUENCIES = [60, 125, 250, 500, 1000, 1500, 2000, 3000, 4000, 5000, 6300, 8000, 10000]
# coarse and fine mesh up to a frequency: values an element in each direction, first size at an edge, ratio, largest size in wavelengths
MESHES = [(2000, (4, 6e-3, 3, 0.8), (5, 4e-3, 3, 0.8)), (5000, (5, 6e-3, 3, 0.9), (7, 4e-3, 3, 1.2)), (np.inf, (5, 6e-3, 3, 1.0), (7, 5e-3, 3, 1.5))]


def orbits():
    out = [("horizontal", a, np.array([np.sin(np.radians(a)), 0, np.cos(np.radians(a))])) for a in range(0, 181, 30)]
    return out + [("vertical", a, np.array([0, np.sin(np.radians(a)), np.cos(np.radians(a))])) for a in range(-150, 180, 30) if a]


def solve_box(body, f, mesh):
    degree, h, ratio, share = mesh
    m = Mesh(box(*body, h, ratio, min(0.12, share * C / f)), degree)
    n = chief_points(f, W * H * D)
    s = Solver(m, np.array([TWEETER, WOOFER]), points_inside(n + 10, 1, (np.array([W / 2, H / 2, -D]), 0)), n)
    rec = [("far", d) for _, _, d in orbits()] + [("near", TWEETER + d) for _, _, d in orbits()]
    p, _, left = s.solve(2 * np.pi * f / C, rec, TWEETER)
    return p / 2, left, m.n


# radius and chamfer of the edges around the front, frequencies
BODIES = {
    "sharp": (0, 0, FREQUENCIES), "radius8": (0.008, 0, FREQUENCIES), "radius25": (0.025, 0, FREQUENCIES),
    "chamfer10": (0, 0.010, [250, 500, 1000, 2000, 3000, 4000]),
}


def boxes(names, frequencies):
    print("# Rigid box 190 x 330 x 378 mm, sharp, and with the edges around the front rounded by 8 mm and 25 mm and chamfered by 10 mm; points at")
    print("# (0, 0.105) and (0, -0.040) on its front; boundary elements, by: /usr/bin/python3 box_bem.py box (method and errors: see there).")
    print("# h: pressure re half space at the distance from (0, 0.105), time of flight removed; receivers far away and at 1 m; c = 343 m/s;")
    print("# e^{+jwt}; mesh_db: coarse to fine mesh.")
    print("body,f_hz,source,distance_m,plane,angle_deg,h_re,h_im,mesh_db")
    for name in names:
        *body, usual = BODIES[name]
        for f in frequencies or usual:
            t = time.time()
            _, less, more = next(m for m in MESHES if f <= m[0])
            coarse, _, n0 = solve_box(body, f, less)
            p, left, n = solve_box(body, f, more)
            diff = 20 * np.log10(np.abs(p / coarse))
            for i, source in enumerate(("tweeter", "woofer")):
                for j, (kind, d) in enumerate([(k, o) for k in ("inf", "1") for o in orbits()]):
                    print("%s,%g,%s,%s,%s,%d,%.6f,%.6f,%.4f" % (name, f, source, kind, d[0], d[1], p[i, j].real, p[i, j].imag, diff[i, j]))
            sys.stdout.flush()
            print(name, f, n0, n, "left inside %.1e, change to 60 deg %.4f dB, all %.4f, %.0f s" % (
                left, np.abs(diff[:, [abs(o[1]) <= 60 for o in orbits()] * 2]).max(), np.abs(diff).max(), time.time() - t), file=sys.stderr, flush=True)


if __name__ == "__main__":
    if sys.argv[1:] == ["sphere"]:
        check_sphere()
    elif sys.argv[1:] == ["box"]:
        boxes(list(BODIES), [])
    elif sys.argv[1:2] == ["box"]:
        boxes([sys.argv[2]], [float(a) for a in sys.argv[3:]])
    else:
        sys.exit(__doc__)
