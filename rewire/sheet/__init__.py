"""The printed bench sheet."""

from rewire.sheet.pdf import pdf, sheet_scenes

__all__ = ["pdf", "sheet_scenes"]
