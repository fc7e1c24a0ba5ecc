"""Repricing: what listings should cost by other rates than theirs, why, and making it so."""
