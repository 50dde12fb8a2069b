"""Anything at all to the readers. ``make fuzz`` looks for what breaks them, guided by coverage.

``python -m tests.fuzz.keep`` picks from what it tried the few small inputs that together reach all
it reached, into ``kept.json``; the tests read them again, and so must every later reader.
"""
