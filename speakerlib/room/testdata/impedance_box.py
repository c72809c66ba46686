"""The field in a box of walls with one real, locally reacting impedance, by the exact eigenvalues of that impedance.

/usr/bin/python3 impedance_box.py > impedance_box.csv

The box of 5.1 x 4.2 x 2.6 m has zeta = 80 (beta = 0.0125) on all six walls; c = 343 m/s; e^{+jwt}; source (0.7, 1.1, 0.8),
listener (3.2, 2.0, 1.2) m. At each frequency the wavenumbers across each axis solve k sin kL - 2a cos kL - (a^2/k) sin kL = 0
with a = j (w/c) beta, by Newton's method from the rigid ones; their functions cos kx + (a/k) sin kx are orthogonal without
conjugation (P. M. Morse and K. U. Ingard, Theoretical Acoustics, 1968, section 9.4; from memory). The sum goes over all modes whose
rigid frequency is at most 1600 Hz. p: re the same source in a free field at 1 m, no time of flight taken out.
"""
import numpy as np

C, BETA, L, S, R, TO = 343.0, 1 / 80, [5.1, 4.2, 2.6], [0.7, 1.1, 0.8], [3.2, 2.0, 1.2], 1600.0


def axis(i, k0):
    n = np.arange(int(2 * TO * L[i] / C) + 1)
    a = 1j * k0 * BETA
    k = np.where(n == 0, np.sqrt(2 * a / L[i]), n * np.pi / L[i] + 0j)

    def f(k):
        return (a * a / k - k) * np.sin(k * L[i]) + 2 * a * np.cos(k * L[i])
    for _ in range(60):
        h = 1e-6
        k = k - f(k) / ((f(k + h) - f(k - h)) / (2 * h))
    assert abs(f(k)).max() < 1e-9 and abs(k - n * np.pi / L[i]).max() < 0.5
    x, w = np.polynomial.legendre.leggauss(120)
    x, w = (x + 1) * L[i] / 2, w * L[i] / 2
    norm = ((np.cos(np.outer(k, x)) + (a / k)[:, None] * np.sin(np.outer(k, x)))**2 * w).sum(1)
    at = [np.cos(k * x) + a / k * np.sin(k * x) for x in (S[i], R[i])]
    return k**2, at[0] * at[1] / norm, (n * C / 2 / L[i])**2


print("#", __doc__.splitlines()[0])
print("#", __doc__.splitlines()[2], "(method: see there)")
print("frequency_hz,p_re,p_im")
for f in (20, 33.6, 40.8, 50, 66, 67.3, 78.5, 84, 100, 108, 123.5, 140, 160):
    k0 = 2 * np.pi * f / C
    (kx, px, fx), (ky, py, fy), (kz, pz, fz) = (axis(i, k0) for i in range(3))
    den = kx[:, None, None] + ky[None, :, None] + kz[None, None, :] - k0**2
    num = px[:, None, None] * py[None, :, None] * pz[None, None, :]
    rigid = fx[:, None, None] + fy[None, :, None] + fz[None, None, :] <= TO**2
    p = 4 * np.pi * (num / den)[rigid].sum()
    print("%g,%.6f,%.6f" % (f, p.real, p.imag))
