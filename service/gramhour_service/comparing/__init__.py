"""One product made in several ways: each costed and priced as a quote is, and set side by side.

This room knows no caller and costs nothing itself: it asks the calculation at each quantity.
"""
