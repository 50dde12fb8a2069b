"""Fit: land the function of a switch on another one, or learn why it cannot be done."""
