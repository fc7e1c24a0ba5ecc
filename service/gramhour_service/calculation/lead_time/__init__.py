"""When an order is ready: starts that are enough, staffed time, what each machine does when.

Moments and durations are whole seconds, moments those of UTC since 1970. Where the shop is, and
what its clock shows, comes in as a ``Calendar``; there is no clock here.
"""
