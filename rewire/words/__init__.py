"""Quantities with their units, colours, gauges, and wording that every message shares."""
