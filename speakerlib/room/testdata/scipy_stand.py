# Scattering of a rigid cylinder in a plane wave, Kirchhoff's integral over plates by the
# Fresnel integrals of its paraxial form, and the same integral by adaptive quadrature.
# Debian's Python 3.11, SciPy 1.10.1:
#   /usr/bin/python3 speakerlib/room/testdata/scipy_stand.py > speakerlib/room/testdata/scipy_stand.csv
import numpy as np
from scipy.integrate import quad
from scipy.special import fresnel, h2vp, hankel2, jvp

print("case,a,b,c,re,im")
for ka in (0.01, 0.1, 0.5, 1, 2, 5, 12):
    for deg in (0, 45, 90, 180):
        n = np.arange(0, 60)
        e = np.where(n == 0, 1, 2)
        with np.errstate(all="ignore"):
            t = np.nan_to_num(jvp(n, ka) / h2vp(n, ka))
        f = -np.sum(e * t * np.cos(n * np.radians(deg)))
        print(f"cylinder,{ka},{deg},0,{f.real:.12e},{f.imag:.12e}")

# The field of an endless cylinder of 30 mm radius at the origin, in that of a line source at
# (-1.5, 0), at (0, 2): its scattered part re the incident one at the axis, exact series.
a = 0.03
for k in (5.0, 20.0, 60.0):
    n = np.arange(0, 80)
    e = np.where(n == 0, 1, 2)
    with np.errstate(all="ignore"):
        t = np.nan_to_num(jvp(n, k * a) / h2vp(n, k * a) * hankel2(n, k * 1.5) * hankel2(n, k * 2.0))
    phi = np.pi / 2  # from the direction of the source, which is 180 degrees: cos n(180 - 90)
    p = -np.sum(e * t * np.cos(n * phi))
    p /= hankel2(0, k * 1.5)
    print(f"line,{k},0,0,{p.real:.12e},{p.imag:.12e}")

# A plate of 1.2 m x 0.8 m: source 10 m above, listener 11 m above, 20 m along X; the plate's middle at
# x, paraxial about the specular point: product of two Fresnel factors, re the image.
xs = 20.0 * 10.0 / 21.0
a1 = np.hypot(xs, 10.0)
a2 = np.hypot(20.0 - xs, 11.0)
cos = 10.0 / a1
def factor(lo, hi, scale):
    s1, c1 = fresnel(lo * scale)
    s2, c2 = fresnel(hi * scale)
    return ((c2 - c1) - 1j * (s2 - s1)) / (1 - 1j)
for f in (2000, 4000, 8000):
    for x in (xs, xs + 0.3, xs + 0.6, xs + 1.0):
        scale = np.sqrt(2 * f / 343 * (1 / a1 + 1 / a2))
        q = factor((x - xs - 0.6), (x - xs + 0.6), scale * cos) * factor(-0.4, 0.4, scale)
        print(f"plate,{f},{x - xs:.1f},0,{q.real:.9e},{q.imag:.9e}")

# The integral itself, for a small plate: 0.2 m x 0.25 m around (0.1, 0, 0.6); source at (0, 0.05, 0.935),
# listener at (2.6, 0, 0.935).
for f in (300, 1000, 3000):
    k = 2 * np.pi * f / 343
    def g(x, y):
        r1 = np.sqrt(x * x + (y - 0.05) ** 2 + 0.335**2)
        r2 = np.sqrt((x - 2.6) ** 2 + y * y + 0.335**2)
        return np.exp(-1j * k * (r1 + r2)) / (2 * np.pi * r1 * r2) * (1j * k + 1 / r2) * 0.335 / r2
    def row(x, part):
        return quad(lambda y: part(g(x, y)), -0.125, 0.125, epsabs=1e-12)[0]
    re = quad(lambda x: row(x, np.real), 0.0, 0.2, epsabs=1e-11)[0]
    im = quad(lambda x: row(x, np.imag), 0.0, 0.2, epsabs=1e-11)[0]
    print(f"kirchhoff,{f},0,0,{re:.12e},{im:.12e}")
