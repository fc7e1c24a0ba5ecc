"""Measuring: from the bytes of a mesh file to what it holds, and from that to grams and minutes.

Values in, values out. This room knows no wire, store, clock or setting; files from strangers are
read in a process of their own (``apart``), so that the worst that one can do is to be refused.
Lengths are in mm, areas in mm², volumes in mm³, in binary floating point, until an estimate
leaves as a rounded decimal.
"""
