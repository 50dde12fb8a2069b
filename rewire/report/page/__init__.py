"""The shareable page: the sheet as one HTML file that turns its switches."""

from rewire.report.page.page import page

__all__ = ["page"]
