"""Drawings as SVG in the page: beads on a grid of hairs, each with its text alternative."""
