"""The places of a driver on the front of the box of box_numpy.py: ripple and sensitivity by its line integrals.

OPENBLAS_NUM_THREADS=1 /usr/bin/python3 box_study.py shifts > box_study.csv     (half a minute)
OPENBLAS_NUM_THREADS=1 /usr/bin/python3 box_study.py map > box_map.csv           (quarter of a minute)

Point sources on the front, receivers far away on the axis, at 10, 20 and 30 degrees to both sides and at 10 degrees up and down,
150 Hz to 12.8 kHz at 16 points an octave. axis: the level on the axis; window: ten times the logarithm of the mean of |h|^2 over the
nine receivers. Ripple: rms over log f from 300 Hz to 6 kHz, by the trapezoidal rule over the points of the grid in that range, of the
level less its mean over the two octaves around each point, with the level straight in log f between the points. Shifts: the
driver moved by 5 mm to the eight sides; least and most ripple on the axis with them, the largest change of the level on
the axis from 300 Hz to 6 kHz, at which frequency and by which shift. Order 1: one edge, 12000 nodes an edge; order 2: two edges
too, 200 nodes an edge.

Map: places every 20 mm in x >= 0, not nearer than 30 mm to an edge, by order 1; best: where Nelder and Mead's simplex ends
from the map's place with the least ripple in the window, within the same margin.
"""
import sys
import numpy as np
import box_numpy as box

BY = 0.005
PLACES = [(0, 0.05), (0.02, 0.085), (-0.035, -0.06)]
HZ = 150 * 2 ** (np.arange(16 * 7) / 16)
HZ = HZ[HZ < 12801]


def window():
    out = [(0, 0)]
    for a in (10, 20, 30):
        out += [(a, 0), (-a, 0)]
    out += [(0, 10), (0, -10)]
    a = np.radians(np.array(out, float))
    return np.stack([np.sin(a[:, 0]) * np.cos(a[:, 1]), np.sin(a[:, 1]), np.cos(a[:, 0]) * np.cos(a[:, 1])], axis=1)


def solve(x, y, order, d):
    box.SRC, box.REF = np.array([x, y, 0.0]), np.zeros(3)
    k = 2 * np.pi * HZ / box.C
    h = box.first(k, d, box.nodes_panels)
    if order > 1:
        h = h + box.second(k, d, lambda length: box.nodes(200, length))
    return h


def ripple(level):
    u = np.log2(HZ)
    at = np.flatnonzero((HZ > 299.999) & (HZ < 6000.001))
    square = []
    for i in at:
        ends = [u[i] - 1, u[i] + 1]
        knots = np.concatenate([ends[:1], u[(u > ends[0]) & (u < ends[1])], ends[1:]])
        mean = np.trapz(np.interp(knots, u, level), knots) / 2
        square.append((level[i] - mean) ** 2)
    return np.sqrt(np.trapz(square, u[at]) / (u[at[-1]] - u[at[0]]))


def front_map():
    from scipy.optimize import minimize
    d = window()

    def at(x, y):
        h = solve(x, y, 1, d)
        return ripple(20 * np.log10(np.abs(h[0]))), ripple(10 * np.log10(np.mean(np.abs(h) ** 2, axis=0)))
    print("# Ripple of points on the right half of the front of a box of 0.19 x 0.33 x 0.26 m by the line integrals of box_numpy.py:")
    print("# /usr/bin/python3 box_study.py map (what the columns are: see there); c = 343 m/s.")
    print("kind,x_m,y_m,axis_db,window_db")
    places = [(0.02 * i, 0.02 * j) for j in range(-8, 9) for i in range(5)]
    rows = [(x, y, *at(x, y)) for x, y in places if x <= box.W / 2 - 0.03 and abs(y) <= box.H / 2 - 0.03]
    for r in rows:
        print("map,%g,%g,%.6f,%.6f" % r)
    x, y, _, _ = min(rows, key=lambda r: r[3])
    edge = [(-(box.W / 2 - 0.03), box.W / 2 - 0.03), (-(box.H / 2 - 0.03), box.H / 2 - 0.03)]
    m = minimize(lambda p: at(*p)[1], (x, y), method="Nelder-Mead", bounds=edge, options={
        "xatol": 1e-5, "fatol": 1e-7, "initial_simplex": [(x, y), (x + 0.008, y), (x, y + 0.008)]})
    print("best,%.6f,%.6f,%.6f,%.6f" % (*m.x, *at(*m.x)))


def shifts():
    d = window()
    band = (HZ > 299.999) & (HZ < 6000.001)
    print("# Ripple and sensitivity of points on the front of a box of 0.19 x 0.33 x 0.26 m by the line integrals of box_numpy.py:")
    print("# /usr/bin/python3 box_study.py shifts (what the columns are: see there); c = 343 m/s.")
    print("order,x_m,y_m,axis_db,window_db,least_db,most_db,change_db,at_hz,shift_x_m,shift_y_m")
    for order in (1, 2):
        for x, y in PLACES:
            h = solve(x, y, order, d)
            axis = 20 * np.log10(np.abs(h[0]))
            mean = 10 * np.log10(np.mean(np.abs(h) ** 2, axis=0))
            ripples, changes = [ripple(axis)], []
            for sx in (-BY, 0, BY):
                for sy in (-BY, 0, BY):
                    if sx or sy:
                        moved = 20 * np.log10(np.abs(solve(x + sx, y + sy, order, d[:1])[0]))
                        ripples.append(ripple(moved))
                        change = np.where(band, np.abs(moved - axis), 0)
                        i = np.argmax(change)
                        changes.append((change[i], HZ[i], sx, sy))
            most = max(changes)
            print("%d,%g,%g,%.6f,%.6f,%.6f,%.6f,%.6f,%.3f,%g,%g" % (order, x, y, ripples[0], ripple(mean), min(ripples), max(ripples), *most), flush=True)


if __name__ == "__main__":
    {"shifts": shifts, "map": front_map}[sys.argv[1]]()
