"""The store: keeps rates, revisions and keys in one SQLite file, and reads them back.

It never calculates, has no clock, and does not know what a rate means: values go in and come out
as JSON texts. History is only ever added to; triggers refuse anything else.
"""
