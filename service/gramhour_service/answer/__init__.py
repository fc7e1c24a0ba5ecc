"""Answers a quote request: from what was sent to what is told. The one way for every caller."""
