"""Nets, contacts, states and ties: the one model that checking, solving and drawing share.

``rewire.circuit.dc`` holds the solver and is imported only where ohms are asked for.
"""

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.nets import Nets, nets_of
from rewire.circuit.states import LimitReached, States

__all__ = ["Circuit", "LimitReached", "Nets", "States", "circuit_of", "nets_of"]
