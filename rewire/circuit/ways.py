"""Moved to ``graph``; stays until everybody above has followed."""

from rewire.circuit.graph import BlockTree as Ways

__all__ = ["Ways"]
