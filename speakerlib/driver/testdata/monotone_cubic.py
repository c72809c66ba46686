# Reference values of the monotone piecewise cubic of Fritsch and Butland through an
# invented Bl(x), in mm and N/A. From the folder of this script:
#
#     /usr/bin/python3 monotone_cubic.py > monotone_cubic.csv
import numpy
import scipy
from scipy.interpolate import PchipInterpolator

x = [-6.0, -4.5, -3.0, -2.0, -0.5, 0.0, 1.0, 2.5, 4.0, 6.0]
y = [4.10, 5.35, 6.42, 6.90, 7.36, 7.40, 7.38, 6.95, 6.95, 4.60]
p = PchipInterpolator(x, y)
print("# scipy.interpolate.PchipInterpolator, SciPy", scipy.__version__)
print("kind,x_mm,Bl_NA")
for a, b in zip(x, y):
    print(f"point,{a!r},{b!r}")
for a in numpy.linspace(-6, 6, 61):
    print(f"between,{float(a)!r},{float(p(a))!r}")
