# Prints the reference tables of heat: /usr/bin/python3 thermal.py NAME > thermal_NAME.csv
# with NAME coil, selfconsistent or step (SciPy). Nothing in it is from the library:
# the resistance is that of the handbooks (copper 0.00393/K, aluminium 0.00429/K at
# 20 °C), the self-consistent rise is found by brentq, the step response of two stages
# by solve_ivp (DOP853, rtol 1e-12).
import sys

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

wires = {"copper": 0.00393, "aluminium": 0.00429}


def coil():
    print("# Resistance of a coil over its temperature. thermal.py coil")
    print("wire,celsius,ratio,loss_dB_at_fixed_voltage")
    for wire, a in wires.items():
        for t in (20, 50, 80, 100, 120, 150, 200, 250):
            r = 1 + a * (t - 20)
            print("%s,%d,%.6f,%.5f" % (wire, t, r, 20 * np.log10(r)))


def selfconsistent():
    print("# A coil alone on a fixed voltage: the rise that its own power makes. thermal.py selfconsistent")
    print("wire,Re,Vrms,Rth,P_cold,rise,P_hot,compression_dB")
    for wire, a in wires.items():
        for re, v, rth in ((5.6, 10, 4), (5.6, 15, 4), (5.6, 20, 4), (3.3, 12, 2.5), (6, 30, 2)):
            rise = brentq(lambda x: rth * v * v / (re * (1 + a * x)) - x, 0, 1e4, xtol=1e-13)
            print("%s,%g,%g,%g,%.6f,%.6f,%.6f,%.6f"
                  % (wire, re, v, rth, v * v / re, rise, v * v / (re * (1 + a * rise)), 20 * np.log10(1 + a * rise)))


def step():
    print("# 20 W from t = 0 into coil (6 J/K, 3 K/W to the magnet) and magnet (900 J/K, 1.2 K/W to the air). thermal.py step")
    print("t,coil,magnet")
    t = [1, 5, 10, 20, 60, 300, 1000, 3000, 10000]
    s = solve_ivp(lambda _, x: ((20 - (x[0] - x[1]) / 3) / 6, ((x[0] - x[1]) / 3 - x[1] / 1.2) / 900),
                  (0, t[-1]), (0, 0), "DOP853", t_eval=t, rtol=1e-12, atol=1e-12)
    for k in range(len(t)):
        print("%d,%.8f,%.8f" % (t[k], s.y[0][k], s.y[1][k]))


{"coil": coil, "selfconsistent": selfconsistent, "step": step}[sys.argv[1]]()
