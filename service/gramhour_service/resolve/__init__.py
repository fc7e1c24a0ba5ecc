"""Turns a request and a rate sheet into a job: codes looked up, grams, minutes and prices known.

All faults of a request are collected, each with its place and remedy. After this room nothing
can fail but arithmetic: an aim that no price reaches, an amount that has no end.
"""
