"""Writes the synthetic city as raw arrays, little-endian, one file each, for the program that is compared with the peers.

python dump.py town|city|metro FOLDER
"""
import os
import sys

import numpy as np
from synth import city

SIZES = {"town": (100, 100, 2_000, 20_000), "city": (250, 250, 12_500, 125_000), "metro": (700, 700, 100_000, 1_000_000)}
size, folder = sys.argv[1], sys.argv[2]
os.makedirs(folder, exist_ok=True)
for name, array in city(*SIZES[size]).items():
    kind = "<u4" if name == "e" else "<f8"
    np.ascontiguousarray(array, dtype=kind).tofile(os.path.join(folder, name))
