"""Writes the small WAV files of this folder and samples.csv, the values that
scipy.io.wavfile reads from each of them, scaled to full scale 1. SciPy cannot
write 24 bits or the extensible header: SoX does.

Made with SciPy 1.10.1, NumPy 1.24.2, Python 3.11, SoX 14.4.2:
    cd speakerlib/signal/testdata && python3 make.py
"""
import os
import subprocess
import warnings

import numpy as np
from scipy.io import wavfile

os.chdir(os.path.dirname(os.path.abspath(__file__)))
rng = np.random.default_rng(7)
x = rng.uniform(-1, 1, (11, 2))
x[0] = -1, 0.5
i16 = np.round(x * 32767).astype(np.int16)
i16[1] = 32767, -32768
i32 = np.round(x * 2147483647).astype(np.int32)
i32[1] = 2147483647, -2147483648
f64 = x.copy()
f64[3] = 1.7, -2.5

wavfile.write("int16.wav", 48000, i16)
wavfile.write("int32.wav", 96000, i32)
wavfile.write("float32.wav", 44100, f64.astype(np.float32))
wavfile.write("float64.wav", 192000, f64)
sox = ["sox", "-V1", "-D"]
subprocess.run(sox + ["int32.wav", "-b", "24", "int24.wav"], check=True)
subprocess.run(sox + ["int32.wav", "-b", "24", "int24three.wav", "remix", "1", "2", "1i"], check=True)
subprocess.run(sox + ["int16.wav", "-b", "16", "mono.wav", "remix", "2"], check=True)
subprocess.run(sox + ["float64.wav", "-b", "32", "-e", "floating-point", "float32three.wav", "remix", "1", "2", "1"], check=True)

with open("samples.csv", "w") as out:
    out.write("# file, sample rate, then all frames, each with its channels\n")
    for name in ["int16", "int24", "int24three", "int32", "float32", "float32three", "float64", "mono"]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            rate, s = wavfile.read(name + ".wav")
        full = {"int16": 2.0**15, "int32": 2.0**31}.get(str(s.dtype), 1.0)
        s = np.atleast_2d(s.astype(float).T).T / full
        out.write(",".join([name, str(rate), str(s.shape[1])] + [float(v).hex() for v in s.ravel()]) + "\n")
