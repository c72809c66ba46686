# Writes exchange_scipy.txt: the output of two sections in transposed direct form II whose coefficients are
# exchanged at sample 300 while their states stay, by SciPy's sosfilt, and the input.
# Command: python3 exchange.py > exchange_scipy.txt
import numpy as np
from scipy.signal import sosfilt
fs, f0 = 96000.0, 40.0
def rbj(kind, f, q, gain=1.0):  # R. Bristow-Johnson, Audio EQ Cookbook, W3C Note 2021
    w = 2*np.pi*f/fs; al = np.sin(w)/2/q; c = np.cos(w); A = np.sqrt(gain)
    if kind == 'hp': b, a = [(1+c)/2, -(1+c), (1+c)/2], [1+al, -2*c, 1-al]
    if kind == 'pk': b, a = [1+al*A, -2*c, 1-al*A], [1+al/A, -2*c, 1-al/A]
    return np.r_[b, a]/a[0]
A = np.array([rbj('hp', 30, 0.7071067811865476), rbj('pk', 50, 2, 2.0)])
B = np.array([rbj('hp', 45, 1.2), rbj('pk', 80, 1, 0.5)])
n = np.arange(1000)
x = 0.01 + 0.5*np.sin(2*np.pi*f0*n/fs)
y1, z = sosfilt(A, x[:300], zi=np.zeros((2, 2)))
y2, _ = sosfilt(B, x[300:], zi=z)
for a, b in zip(x, np.r_[y1, y2]):
    print('%.17g %.17g' % (a, b))
