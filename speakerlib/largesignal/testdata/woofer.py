#!/usr/bin/python3
"""Reference runs of the invented woofer of fixture_test.go.

python3 woofer.py            writes woofer.cir and woofer_scipy.csv, woofer_ngspice.csv
python3 woofer.py speed      times solve_ivp and ngspice, a second of the 40 Hz run

The equations are written here anew with the current as state, where the package has the
flux. Needs NumPy, SciPy and ngspice.
"""
import os, subprocess, sys, time
import numpy as np
from scipy.integrate import solve_ivp

rho, c = 1.2, 344.0
Re, Bl0, M, Cms, R, Sd = 5.5, 7.5, 15.2e-3, 0.97e-3, 0.85, 138e-4
mm = 1e3 ** np.arange(7)
BL = np.array([7.5, 0.02, -0.025, -2e-4, -2.0e-4, 1e-7, 1.2e-6]) * mm
K = np.array([1 / 0.97e-3, -8, 7, 0.05, 0.05, 1e-4, 1e-4]) * mm
L = np.array([0.42e-3, -2e-5, -3e-7, 9e-8, 2e-9, -2e-10, 1e-11]) * mm
DL = np.arange(1, 7) * L[1:]
Vb, d, length = 15e-3, 52e-3, 180e-3
S = np.pi * d * d / 4
Map = rho * (length + (0.6133 + 0.8217) * d / 2) / S
Cab = Vb / (rho * c * c)
wb = 1 / np.sqrt(Map * Cab)
Ral, Rap = 12 / (wb * Cab), 1 / (wb * Cab * 60)
J = 1.5 * rho / (2 * S * S)      # sharp entrance 0.5 and jet 1


def poly(c, x):
    y = c[-1]
    for k in c[-2::-1]:
        y = y * x + k
    return y


def field(volts):
    def f(t, s):
        i, x, v, p, u = s
        bl, k, l, dl = poly(BL, x), poly(K, x), poly(L, x), poly(DL, x)
        return [(volts(t) - Re * i - (bl + dl * i) * v) / l, v,
                (bl * i + 0.5 * dl * i * i - k * x - R * v + Sd * p) / M,
                -(Sd * v + u + p / Ral) / Cab, (p - (Rap + J * abs(u)) * u) / Map]
    return f


CASES = {"mild": [(40.0, 4.0)], "loud": [(40.0, 14.0)], "two": [(50.0, 8.0), (325.0, 2.0)]}  # Hz, V peak


def volts(tones):
    def f(t):
        return sum(a * np.sin(2 * np.pi * h * t) for h, a in tones)
    return f


def integrate(name, end, rtol=1e-11, t_eval=None, method="DOP853"):
    return solve_ivp(field(volts(CASES[name])), (0, end), np.zeros(5), method, t_eval, rtol=rtol,
                     atol=rtol * np.array([1, 1e-3, 1, 100, 1e-2]), max_step=1e-3)


def horner(c, x):
    s = "%.17g" % c[-1]
    for k in c[-2::-1]:
        s = "(%.17g+%s*%s)" % (k, x, s)
    return s


def netlist(name, end, points, step):
    """Current through Le by a flux; mechanics and acoustics as mobility-free integrators:
    each state is the voltage of a capacitor of 1 F charged by a behavioural current."""
    x, v, p, u, lam = "V(x)*1e-3", "V(v)", "V(p)*1e2", "V(u)*1e-2", "V(lam)*1e-3"
    i = "V(i)"
    src = "+".join("%.17g*sin(%.17g*time)" % (a, 2 * np.pi * h) for h, a in CASES[name])
    return f"""* invented vented woofer with Bl(x), Kms(x), Le(x) and a vent that loses |u|u, case {name}
Cx x 0 1
Cv v 0 1
Cp p 0 1
Cu u 0 1
Cl lam 0 1
Bin in 0 V = {src}
Bx 0 x I = {v}*1e3
Bi i 0 V = {lam}/{horner(L, x)}
Bl 0 lam I = 1e3*(V(in)-{Re}*V(i)-{horner(BL, x)}*{v})
Bv 0 v I = ({horner(BL, x)}*{i}+0.5*{horner(DL, x)}*{i}*{i}-{horner(K, x)}*{x}-{R}*{v}+{Sd}*{p})/{M}
Bp 0 p I = -1e-2*({Sd}*{v}+{u}+{p}/{Ral:.17g})/{Cab:.17g}
Bu 0 u I = 1e2*({p}-({Rap:.17g}+{J:.17g}*abs({u}))*{u})/{Map:.17g}
.ic V(x)=0 V(v)=0 V(p)=0 V(u)=0 V(lam)=0
.options method=trap reltol=1e-7 abstol=1e-14 vntol=1e-12 chgtol=1e-20 trtol=1
.tran {end/points:.17g} {end:.17g} 0 {step} uic
.control
set numdgt=12
run
linearize v(x) v(v) v(p) v(u) v(i)
wrdata woofer.out v(x) v(v) v(p) v(u) v(i)
quit 0
.endc
.end
"""


if sys.argv[1:] == ["speed"]:
    t = np.arange(48000) / 48000.0
    best = integrate("loud", 1.0, 1e-12, t_eval=t).y
    for method in "DOP853", "RK45", "LSODA", "Radau", "BDF":
        for rtol in 1e-4, 1e-6, 1e-8, 1e-10:
            if rtol < 1e-6 and method in ("RK45", "Radau", "BDF"):
                continue
            begin = time.process_time()
            s = integrate("loud", 1.0, rtol, t_eval=t, method=method)
            took = time.process_time() - begin
            off = max(np.max(np.abs(s.y[k] - best[k])) / np.max(np.abs(best[k])) for k in range(5))
            print(f"solve_ivp {method} rtol {rtol:g}: {1 / took:.2f} times real time, off by {off:.1g}")
    open("speed.cir", "w").write(netlist("loud", 1.0, 1000, "2.0833e-5").replace("reltol=1e-7", "reltol=1e-4").replace(" trtol=1", ""))
    begin = time.time()
    subprocess.run(["ngspice", "-b", "speed.cir"], capture_output=True)
    print(f"ngspice trapezoidal, 48 kHz, reltol 1e-4: {1 / (time.time() - begin):.2f} times real time")
    os.remove("speed.cir")
    os.remove("woofer.out")
    sys.exit()

n = 300                              # points of 1 ms
with open("woofer_scipy.csv", "w") as out:
    print("# solve_ivp DOP853, rtol 1e-11: python3 woofer.py. From rest.", file=out)
    print("case,t_s,current_A,cone_m,velocity_m_s,pressure_Pa,vent_m3_s", file=out)
    for name in CASES:
        s = integrate(name, n * 1e-3, t_eval=np.arange(0, n, 5) * 1e-3)
        for k, t in enumerate(s.t):
            print(name + ",%.6g,%.13g,%.13g,%.13g,%.13g,%.13g" % (t, *s.y[:, k]), file=out)
with open("woofer_harmonics.csv", "w") as out:
    print("# harmonics of cone and sound after 2 s, solve_ivp DOP853, rtol 1e-11: python3 woofer.py", file=out)
    print("case,order,cone_re_m,cone_im_m,sound_re_Pa,sound_im_Pa", file=out)
    for name, base in ("mild", 40.0), ("loud", 40.0):
        f = field(volts(CASES[name]))
        N, begin = 4096, 2.0
        t = begin + np.arange(N) / N / base
        s = integrate(name, t[-1] + 1e-9, t_eval=t)
        d = np.array([f(tt, s.y[:, k]) for k, tt in enumerate(t)])
        sound = rho / (2 * np.pi) * (Sd * d[:, 2] + d[:, 4] + d[:, 3] / Ral)
        for order in range(6):
            e = np.exp(-2j * np.pi * order * base * (t - begin)) * (1j * 2 / N if order else 1 / N)
            a, b = np.sum(e * s.y[1]), np.sum(e * sound)
            print(name + ",%d,%.13g,%.13g,%.13g,%.13g" % (order, a.real, a.imag, b.real, b.imag), file=out)
with open("woofer_ngspice.csv", "w") as out:
    print("# ngspice 39, trapezoidal, steps of 1 us: python3 woofer.py; the netlist is woofer.cir. From rest.", file=out)
    print("case,t_s,current_A,cone_m,velocity_m_s,pressure_Pa,vent_m3_s", file=out)
    text = netlist("loud", 0.15, 150, "1e-6")
    open("woofer.cir", "w").write(text)
    subprocess.run(["ngspice", "-b", "woofer.cir"], check=True, capture_output=True)
    a = np.loadtxt("woofer.out")
    for row in a[::5]:
        x, v, p, u, i = row[1::2]
        print("loud,%.6g,%.10g,%.10g,%.10g,%.10g,%.10g" % (row[0], i, x * 1e-3, v, p * 1e2, u * 1e-2), file=out)
    os.remove("woofer.out")
