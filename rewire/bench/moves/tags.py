"""What stands on the tag of each wire, so that no tag stands for two wires.

Two wirings number their wires each for itself: W3 of the one need not be W3 of the other. From its
label on, a wire bears the number of the second wiring, which the finished set and all its papers
keep. One that the second wiring does not number bears ``old`` before its number in the first: no
id holds a space, so that is nobody else's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rewire.bench.moves.links import Link, Pair


@dataclass(frozen=True, slots=True)
class Tags:
    """The tags of the wires that are there when the work begins."""

    source: str
    """Name of the first wiring."""
    now: Mapping[str, str]
    """Id in the first wiring → id in the second, of each wire that the second numbers."""

    def on(self, wire: str) -> str:
        """What the tag of a wire of the first wiring says: ``W8``, ``old W1``."""
        return self.now.get(wire, f"old {wire}")

    def told(self, wire: str) -> str:
        """The same, with the number in the first wiring where that is another."""
        tag = self.on(wire)
        return f"{tag} ({wire} in {self.source})" if tag not in (wire, f"old {wire}") else tag

    def named(self, link: Link, jumper: bool | None = None) -> str:
        """``jumper J1``, ``wire W3``, ``wire old W3``, ``lead R5.1``."""
        return link.id if link.wire is None else f"{_kind(link, jumper)} {self.on(link.id)}"

    def introduced(self, link: Link) -> str:
        """The same as ``told``, with what it is."""
        return link.id if link.wire is None else f"{_kind(link, None)} {self.told(link.id)}"


def tags_of(source: str, pairs: Iterable[Pair]) -> Tags:
    """The tags of a wiring's wires.

    Args:
        source: name of the first wiring.
        pairs: what becomes of its wires; one that is in no pair is not numbered any more.
    """
    return Tags(source, {p.old.id: p.new.id for p in pairs if p.old.wire and p.new.wire})


def _kind(link: Link, jumper: bool | None) -> str:
    return "jumper" if (link.jumper if jumper is None else jumper) else "wire"
