"""Moved to ``connectivity``; stays until everybody above has followed."""

from rewire.circuit.connectivity import (
    Beside as Beside,
    beside as beside,
    bonds_at_rest as bonds_at_rest,
    controls_of as controls_of,
    spread as spread,
)
