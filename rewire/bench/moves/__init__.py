"""Moves: the work between two wirings of a spec, in the order one does it."""

from rewire.bench.moves.model import STAGES, Difference, Moves, Stay, Step
from rewire.bench.moves.plan import default_source, default_targets, moves_of, with_verdict

__all__ = [
    "STAGES",
    "Difference",
    "Moves",
    "Stay",
    "Step",
    "default_source",
    "default_targets",
    "moves_of",
    "with_verdict",
]
