"""The calculation: values in, values out, exact to the last digit.

Each room holds one step of the costing rules. None of them sees the wire, a clock, a file,
a setting or the store; all of them may import the standard library and each other only.
"""
