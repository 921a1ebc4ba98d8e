"""Open-circuit-voltage curves: the tables with their sources, and the way to ask for one.

Here: ocv_curves.csv, seven curves at steps of 1 %, and `curve_named`. Not here: what is done with
a curve (packs/physics/ocv.py, from where the physics imports `curve_named` itself).
"""

from packs.physics.ocv import curve_named

__all__ = ["curve_named"]
