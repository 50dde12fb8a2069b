"""The printed bench sheet, and what it is printed from."""

from rewire.sheet.packet import Packet, packet_of
from rewire.sheet.pdf import SECTIONS, pdf, sheet_scenes

__all__ = ["SECTIONS", "Packet", "packet_of", "pdf", "sheet_scenes"]
