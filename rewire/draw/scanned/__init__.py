"""Scanned pages: notes on the maker's own drawing."""

from rewire.draw.scanned.view import scanned_panels, scanned_view

__all__ = ["scanned_panels", "scanned_view"]
