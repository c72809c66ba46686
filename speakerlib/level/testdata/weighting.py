# Writes weighting.txt: A and C weighting of IEC 61672-1 (formula of annex E, from memory) at the exact
# third-octave frequencies in 30 digits, next to the table printed in the standard (from memory), and
# the bandwidths of A-weighted white noise in Hz.   Command: python3 weighting.py > weighting.txt
from mpmath import mp, mpf, sqrt, log10, quad
mp.dps = 30
fr, fL, fH, fA, D = mpf(1000), mpf(10)**mpf('1.5'), mpf(10)**mpf('3.9'), mpf(10)**mpf('2.45'), sqrt(mpf(1)/2)
b = (fr**2 + fL**2*fH**2/fr**2 - D*(fL**2 + fH**2))/(1 - D)
c = fL**2*fH**2
f1, f4 = sqrt((-b - sqrt(b*b - 4*c))/2), sqrt((-b + sqrt(b*b - 4*c))/2)
f2, f3 = fA*(3 - sqrt(5))/2, fA*(3 + sqrt(5))/2
C = lambda f: f4**2*f**2/((f**2 + f1**2)*(f**2 + f4**2))
A = lambda f: f4**2*f**4/((f**2 + f1**2)*sqrt(f**2 + f2**2)*sqrt(f**2 + f3**2)*(f**2 + f4**2))
a = [-70.4,-63.4,-56.7,-50.5,-44.7,-39.4,-34.6,-30.2,-26.2,-22.5,-19.1,-16.1,-13.4,-10.9,-8.6,-6.6,-4.8,
     -3.2,-1.9,-0.8,0,0.6,1.0,1.2,1.3,1.2,1.0,0.5,-0.1,-1.1,-2.5,-4.3,-6.6,-9.3]
k = [-14.3,-11.2,-8.5,-6.2,-4.4,-3.0,-2.0,-1.3,-0.8,-0.5,-0.3,-0.2,-0.1,0,0,0,0,0,0,0,0,0,-0.1,-0.2,-0.3,
     -0.5,-0.8,-1.3,-2.0,-3.0,-4.4,-6.2,-8.5,-11.2]
print('# Hz  A/dB  A printed  C/dB  C printed')
for x in range(-20, 14):
    f = mpf(10)**(3 + mpf(x)/10)
    print(mp.nstr(f, 17), mp.nstr(20*log10(A(f)/A(fr)), 12), a[x+20], mp.nstr(20*log10(C(f)/C(fr)), 12), k[x+20])
for lo, hi in ((20, 20000), (200, 20000)):
    pts = [mpf(lo), 300, 1000, 3000, 10000, mpf(hi)]
    print('bandwidth', lo, hi, mp.nstr(quad(lambda f: (A(f)/A(fr))**2, pts), 15))
