# Writes boxes.cir, four boxes with one invented woofer, and runs ngspice on it:
#   /usr/bin/python3 boxes_ngspice.py
# rho = 1.18 kg/m3, c = 345 m/s; vents without end corrections, mass rho*L/S; a chamber of V has V/(rho c2);
# a leak of R across a chamber, absorption ra in series with its air, rp in series with a port.
from math import pi
import subprocess
rho, c = 1.18, 345.0
cap = lambda v: v / (rho * c * c)
mass = lambda d, l: rho * l / (pi / 4 * d * d)
out = ["* four boxes with one woofer"]
vectors = []

def driver(k, front, rear):
    """Cone flow Sd*u goes out of node rear into node front; a node is 0 for the outside."""
    out.extend(f"""
Vg{k} in{k} 0 dc 0 ac 1
Re{k} in{k} e1{k} 5.6
Le{k} e1{k} e2{k} 4e-4
Hb{k} e2{k} e3{k} Vum{k} 6.8
Vie{k} e3{k} 0 0
Hf{k} m1{k} 0 Vie{k} 6.8
Lm{k} m1{k} m2{k} 14.5e-3
Rm{k} m2{k} m3{k} 1.1
Cm{k} m3{k} m4{k} 0.95e-3
Rb{k} m4{k} m3{k} 1e15
Vum{k} m4{k} m5{k} 0
El{k} m5{k} 0 {front} {rear} 0.0136
Fu{k} {rear} {front} Vum{k} 0.0136""".strip().splitlines())
    vectors.extend([f"i(Vie{k})", f"i(Vum{k})"])

def chamber(name, v, leak, ra):
    out.append(f"Ra{name} {name} x{name} {ra!r}")
    out.append(f"Ca{name} x{name} 0 {cap(v)!r}")
    out.append(f"Rl{name} {name} 0 {leak!r}")
    vectors.append(f"v({name})")

def vent(name, a, b, d, l, rp):
    out.append(f"V{name} {a} y{name} 0")
    out.append(f"L{name} y{name} z{name} {mass(d, l)!r}")
    out.append(f"R{name} z{name} {b} {rp!r}")
    vectors.append(f"i(V{name})")

driver("a", "af", "ar")  # bandpass of fourth order
chamber("ar", 0.012, 3e5, 400.0)
chamber("af", 0.009, 5e5, 300.0)
vent("ap", "af", "0", 0.06, 0.15, 600.0)

driver("b", "bf", "br")  # sixth order, parallel
chamber("br", 0.02, 3e5, 400.0)
chamber("bf", 0.007, 5e5, 300.0)
vent("bp", "bf", "0", 0.07, 0.10, 600.0)
vent("bq", "br", "0", 0.05, 0.20, 900.0)

driver("c", "cf", "cr")  # sixth order, series
chamber("cr", 0.02, 3e5, 400.0)
chamber("cf", 0.007, 5e5, 300.0)
vent("cp", "cf", "0", 0.07, 0.10, 600.0)
vent("cq", "cr", "cf", 0.05, 0.20, 900.0)

driver("d", "0", "d1")  # two chambers, three ports
chamber("d1", 0.012, 3e5, 400.0)
chamber("d2", 0.018, 5e5, 300.0)
vent("dp", "d2", "0", 0.05, 0.20, 600.0)
vent("dq", "d1", "0", 0.04, 0.12, 1e-9)
vent("dm", "d1", "d2", 0.06, 0.10, 900.0)

out.append(f""".options reltol=1e-12 abstol=1e-18 vntol=1e-18
.ac dec 12 10 3.2k
.control
set wr_singlescale
set numdgt=12
run
wrdata boxes_ngspice.txt {' '.join(vectors)}
quit
.endc
.end""")
open("boxes.cir", "w").write("\n".join(out) + "\n")
subprocess.run(["ngspice", "-b", "boxes.cir"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
