"""Customers' own parts: what a measured file is signed as, who may have it made, at what price.

A part is measured once and quoted often: what a quote needs of the file stands in the signed
measurement. The moment is handed in; there is no clock here, and nobody's files are kept.
"""
