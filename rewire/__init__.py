"""Reasoning, sums and drawings for rewiring a switch or a meter in old equipment."""

__version__ = "0.1.0"
