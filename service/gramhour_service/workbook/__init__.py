"""A quote as a spreadsheet whose cells are formulas: it goes on calculating with no service near.

The calculation's own functions are run with numbers that remember how they were made; what they
leave behind is written as cells. The room knows nothing of who asks, and computes no price itself.
"""
