"""Moved to ``circuit`` and ``graph``; stays until everybody above has followed."""

from rewire.circuit.circuit import Nets as Nets
from rewire.circuit.graph import Joiner as Joiner
