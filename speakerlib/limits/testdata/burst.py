# Peak displacement of a closed box of Qtc 1/sqrt(2) and 50 Hz, 1 mm at direct current
# and 1 V, in a 6.5-cycle burst under a raised cosine of 1 V:
# /usr/bin/python3 burst.py > burst.csv (SciPy's lsim at 480 kHz).
import numpy as np
from scipy.signal import lsim

w = 2 * np.pi * 50
print("# Peak displacement in bursts. burst.py")
print("hz,peak_m")
for hz in (20, 31.5, 40, 50, 63, 100):
    t = np.arange(0, 6.5 / hz + 0.5, 1 / 480e3)
    u = np.where(t < 6.5 / hz, np.sin(np.pi * t * hz / 6.5) ** 2 * np.sin(2 * np.pi * hz * t), 0)
    _, x, _ = lsim(([1e-3 * w * w], [1, np.sqrt(2) * w, w * w]), u, t)
    print("%g,%.9e" % (hz, abs(x).max()))
