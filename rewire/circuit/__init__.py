"""A wiring as a circuit: from the records of a spec to nets, contacts, states and connections.

Begin with ``circuit``; ``states`` and ``connectivity`` say what is connected in which positions.
``dc`` solves for volts and is imported only where these are asked for.
"""

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.states import LimitReached, States

__all__ = ["Circuit", "LimitReached", "States", "circuit_of"]
