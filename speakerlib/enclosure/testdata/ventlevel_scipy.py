# An invented woofer in a vented box in the time domain, with a vent that loses K*rho/2*|u|u, driven by
# sines until steady: amplitudes of the fundamental. SciPy 1.10.1:
#   /usr/bin/python3 ventlevel_scipy.py > ventlevel_scipy.csv
import numpy as np
from scipy.integrate import solve_ivp
rho, c = 1.18, 345.0
Re, Le, Bl, Mms, Cms, Rms, Sd = 5.6, 4e-4, 6.8, 14.5e-3, 0.95e-3, 1.1, 0.0136
Vb, D, L = 0.014, 0.05, 0.26   # no end corrections
S = np.pi / 4 * D * D
M, C, Rl, K = rho * L / S, Vb / (rho * c * c), 4e5, 1.5

def run(f, V):
    w = 2 * np.pi * f
    def dx(t, y):
        i, x, v, p, U = y   # p in the box, U out of the vent, x and v outward
        return [(V * np.sin(w * t) - Re * i - Bl * v) / Le, v, (Bl * i + Sd * p - Rms * v - x / Cms) / Mms,
                (-Sd * v - U - p / Rl) / C, (p - K * rho / 2 * abs(U / S) * U / S) / M]
    periods = max(30, int(1.2 * f))   # the settling of a Q of some ten
    n = 256
    t = np.arange(n) / n / f + (periods - 1) / f
    s = solve_ivp(dx, (0, periods / f), np.zeros(5), t_eval=t, rtol=1e-9, atol=1e-12, method="DOP853")
    e = np.exp(-1j * w * s.t)
    fund = lambda q: abs(2 / n * np.sum(q * e))
    net = s.y[3]   # pressure in the box, of which C·dp/dt is the net flow
    return fund(s.y[4]) / S, fund(net) * w * C * w * rho / (2 * np.pi), fund(s.y[1])

print("f_hz,volts_peak,vent_air_mps,pressure_pa,cone_m")
for V in (2.0, 10.0, 30.0):
    for f in (20.0, 30.0, 38.0, 42.0, 50.0, 70.0):
        a = run(f, V)
        print(f"{f:g},{V:g},{a[0]:.7g},{a[1]:.7g},{a[2]:.7g}")
