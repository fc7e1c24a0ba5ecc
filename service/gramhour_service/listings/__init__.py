"""What the shop offers: products, listings of them, and their prices as they are listed.

This room reads and keeps them and answers what a listed sku costs. It prices nothing anew.
"""
