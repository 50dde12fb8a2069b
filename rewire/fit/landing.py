"""A landing: which net every lug of the new switch is on, and how the switch is used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rewire.fit.offers import Detents
from rewire.records.spec import Timing


@dataclass(frozen=True, slots=True)
class Landing:
    """One answer of the search.

    ``nets`` are the nets of the new switch that carry a lug, each a set of stubs (by
    number; none for lugs that are only jumpered with each other) and its lugs in order.
    """

    nets: tuple[tuple[tuple[int, ...], tuple[str, ...]], ...]
    way: Detents
    timings: tuple[Timing, ...]
    """Per section of the offer."""

    @property
    def connections(self) -> int:
        """Stubs that land."""
        return sum(len(stubs) for stubs, _ in self.nets)

    @property
    def jumpers(self) -> int:
        """Jumpers between lugs."""
        return sum(len(lugs) - 1 for _, lugs in self.nets)

    @property
    def cost(self) -> tuple[int, int]:
        """Connections and jumpers."""
        return self.connections, self.jumpers

    def spare(self, lugs: Sequence[str]) -> tuple[str, ...]:
        """Lugs that nothing lands on."""
        used = {lug for _, of_net in self.nets for lug in of_net}
        return tuple(lug for lug in lugs if lug not in used)
