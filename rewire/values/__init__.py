"""Values: shunts, multipliers and pots, how well a meter reads, what the parts have to stand."""

from rewire.values.assemble import Wishes, values_of
from rewire.values.model import WiringValues

__all__ = ["WiringValues", "Wishes", "values_of"]
