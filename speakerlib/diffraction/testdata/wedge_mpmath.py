"""Diffraction of a point source by an infinite rigid wedge, by mpmath with 30 digits.

    python3 wedge_mpmath.py > wedge_mpmath.csv     (mpmath 1.3)

p = -(nu/2 pi) int_0^oo beta exp(-jkL)/L d eta, L^2 = rS^2 + rR^2 + 2 rS rR cosh eta + z^2
(Biot and Tolstoy 1957 as in Svensson, Fred and Vanderkooy 1999), along eta = x - 0.9j atan(sinh x).
Sources very near the edge and very far from it, low and high frequencies. c = 343 m/s.
"""
from mpmath import mp, mpf, mpc, pi, sqrt, sin, cos, cosh, sinh, atan, exp, quad, nstr

mp.dps = 30
ENDS = [0, mpf("1e-6"), mpf("1e-5"), mpf("1e-4"), mpf("1e-3"), mpf("1e-2"), mpf("0.05"), mpf("0.2"),
        mpf("0.5"), 1, 2, 3, 4, 6, 8, 10, 14, 20, 30, 45, 60, 80]


def diffracted(open_, rs, ts, rr, tr, z, f):
    nu, k = pi / open_, 2 * pi * f / 343

    def integrand(x):
        eta, slope = mpc(x, -mpf("0.9") * atan(sinh(x))), mpc(1, -mpf("0.9") / cosh(x))
        length = sqrt(rs**2 + rr**2 + 2 * rs * rr * cosh(eta) + z**2)
        beta = sum(sin(nu * p) / (cosh(nu * eta) - cos(nu * p))
                   for p in (pi + ts + tr, pi + ts - tr, pi - ts + tr, pi - ts - tr))
        return beta * exp(-1j * k * length) / length * slope

    return -nu / (2 * pi) * quad(integrand, ENDS, maxdegree=8)


print("open_over_pi,rS,thetaS,rR,thetaR,z,f_hz,re,im")
for c in ["1.5,1,0.3,2,2,0.5,1000", "1.5,0.1,0,3,4,0.5,20000", "1.5,10,0.3,20,2,0.5,20000",
          "1.5,300,0.3,2000,2,0.5,20000", "1.75,1,0.3,2,5,300,5000", "1.5,0.001,0.3,2,2,0.5,20",
          "1.5,1e-6,0.3,2,2,0,20", "1.5,1e-4,0.3,2,2,0,0.001", "2,1e-3,0.3,1e-3,6,0,0.001",
          "1.5,1e-4,0.3,1e3,2,0,100", "1.01,1,0.3,2,2,0,100"]:
    v = [mpf(x) for x in c.split(",")]
    p = diffracted(v[0] * pi, *v[1:])
    print(c, nstr(p.real, 15), nstr(p.imag, 15), sep=",")
