"""The shop's rate sheets: which one is in force, and a new one taken in.

Between the store, which knows no meaning, and what asks for a sheet to price with. The moment is
handed in; there is no clock here.
"""
