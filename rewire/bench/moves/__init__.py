"""Moves: the work between two wirings of a spec, in the order one does it."""

from rewire.bench.moves.model import Moves, Stay, Step
from rewire.bench.moves.plan import moves_of

__all__ = ["Moves", "Stay", "Step", "moves_of"]
