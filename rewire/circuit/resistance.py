"""Moved to ``ohms``; stays until everybody above has followed."""

from rewire.circuit.ohms import (
    least_beyond as least_beyond,
    most_within as most_within,
    ohms_between as ohms_between,
)
from rewire.records.parts import COLD as COLD
