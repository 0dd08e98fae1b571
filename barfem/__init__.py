"""barfem: rate, stress, yield margin and life of anti-roll bars, for every hole setting.

Units: mm, N, MPa, N·mm, deg in bar files; axes as in ISO 8855 (x forward, y left, z up).
"""

__version__ = "0.1.0"
