"""What the desk shows: forms made from the contract's types, drawings, answers set out to be read.

Like the rest of ``pages`` it is handed documents and writes them down; it knows neither who asks
nor where from.
"""
