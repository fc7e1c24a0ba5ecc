"""Toolpaths: from the bytes of a G-code file to filament, grams, layers, flow and minutes.

Values in, values out, from the standard library alone. This room knows no wire, store, clock or
setting, nor the machine whose rates it is handed. What it reads is the ISO 6983 dialect of desktop
extrusion machines; of comments it reads nothing. Lengths are in mm, times in s, speeds in mm/s,
accelerations in mm/s², volumes in mm³, masses in g, in binary floating point; the result's minutes
are minutes.
"""
