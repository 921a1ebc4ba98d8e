"""Logs of a charge or a drive: from the bytes of any instrument to time, current and cells.

Here: encodings, layouts, clocks and units of delimited text. Not here: what a log says about a pack
(packs/physics), nor where its bytes come from (packs/cycle_file.py).
"""
