"""Listings that are made and sold alike, priced together: the same rules, many numbers at once."""
