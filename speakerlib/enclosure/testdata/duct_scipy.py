# J1(x)/J0(x) and tan(x)/x on arg x = -pi/4 by SciPy 1.10.1:
#   /usr/bin/python3 duct_scipy.py > duct_scipy.csv
import cmath
from scipy.special import jve
print("size,bessel_re,bessel_im,tan_re,tan_im")
for size in [1e-3, 0.1, 0.5, 1, 2, 5, 8, 12, 17, 19.9, 20.1, 25, 40, 70, 150, 600, 3000]:
    x = size * cmath.exp(-1j * cmath.pi / 4)
    b = jve(1, x) / jve(0, x)
    t = cmath.tan(x) / x if size < 300 else -1j / x
    print(f"{size!r},{b.real:.16g},{b.imag:.16g},{t.real:.16g},{t.imag:.16g}")
