"""The physics of a pack: one module a calculation, on a few shared ones.

Pure Python: nothing here reads a clock, a file or a database. The calculations do not import one
another; what they share is in instrument.py, circuit.py and curves.py. The JSON door to all of
them is packs/calculations.py.
"""
