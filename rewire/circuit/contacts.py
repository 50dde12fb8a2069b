"""Moved to ``circuit`` and ``graph``; stays until everybody above has followed."""

from rewire.circuit.circuit import Contact as Contact
from rewire.circuit.graph import ALWAYS as ALWAYS, NO_SECTION as NO_SECTION, Link as Link
