"""Rungs: every part and every contact between the rails, each kept, gone, new or replaced."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, replace
from typing import Literal

from rewire.compare.roles import has_role, turns_freely
from rewire.compare.turned import roles_between
from rewire.draw.marked.rails import Rails
from rewire.draw.marked.values import Chosen, value_of
from rewire.records.spec import Part, Spec, Wiring

Mark = Literal["kept", "replaced", "removed", "new"]
Ends = tuple[int | None, ...]
"""Rails of the terminals in order; None is joined to nothing."""


@dataclass(frozen=True, slots=True)
class Side:
    """What one wiring has on a rung."""

    shows: str
    """``part:R31`` or ``contact:S3.A-A1``."""
    name: str
    value: str = ""

    @property
    def text(self) -> str:
        """Both in one line."""
        return f"{self.name} {self.value}".rstrip()


@dataclass(frozen=True, slots=True)
class Rung:
    """One line of the picture: a part or a contact between rails."""

    key: str
    """Rungs of one key share a number and a row of the table."""
    kind: str
    """Kind of the part, ``contact``, or ``tie`` where a net was parted or joined."""
    mark: Mark
    ends: Ends
    lugs: tuple[str, ...]
    """Names of the terminals, in the order of ``ends``."""
    was: Side | None
    now: Side | None
    below: str = ""
    """Positions in which a contact is closed, or a remark."""
    group: str = ""
    """Rungs of one group are drawn under each other: a pole of a switch."""
    moved: bool = False
    """The same part is drawn twice: where it was and where it is now."""
    touched: bool = False
    """Kept, but of a switch that is not the same switch."""

    @property
    def side(self) -> Side:
        """What is there now; where nothing is, what was."""
        side = self.now or self.was
        assert side is not None, self.key
        return side


def part_rungs(spec: Spec, wiring: Wiring, rails: Rails, chosen: Chosen) -> Iterator[Rung]:
    """All parts but switches and strips, of both wirings."""
    was = _drawn(spec.parts_of(spec.original).values())
    now = _drawn(spec.parts_of(wiring).values())
    heirs = heirs_of(spec, wiring)
    for name, part in was.items():
        heir = now.get(heirs.get(name, ""))
        if heir is None:
            yield _one_sided(part, "removed", rails, {})
        else:
            yield from _pair(part, heir, rails, chosen)
    inherited = set(heirs.values())
    for name, part in now.items():
        if name not in inherited:
            yield _one_sided(part, "new", rails, chosen)


def _drawn(parts: Iterable[Part]) -> dict[str, Part]:
    return {part.name: part for part in parts if has_role(part)}


def heirs_of(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Original part → the one part that stands for all of it, terminal for terminal."""
    roles, now = roles_between(spec, wiring), spec.parts_of(wiring)
    found = {}
    for name, part in spec.parts_of(spec.original).items():
        takers = roles.takers(part) if has_role(part) and name not in roles.missing else ()
        if len(takers) == 1 and _alike(part, now[takers[0]]):
            found[name] = takers[0]
    return found


def _alike(part: Part, heir: Part) -> bool:
    return part.kind == heir.kind and len(part.terminals) == len(heir.terminals)


def _ends(part: Part, on: dict[str, int]) -> Ends:
    return tuple(on.get(part.terminal(lug)) for lug in part.terminals)


def _label(part: Part, chosen: Chosen) -> Side:
    return Side(f"part:{part.name}", part.name, value_of(part, chosen))


def _one_sided(part: Part, mark: Mark, rails: Rails, chosen: Chosen) -> Rung:
    label = _label(part, chosen)
    on = rails.was_on if mark == "removed" else rails.now_on
    return Rung(
        key=f"{mark} {part.name}", kind=part.kind, mark=mark, ends=_ends(part, dict(on)),
        lugs=part.terminals, was=label if mark == "removed" else None,
        now=label if mark == "new" else None,
    )  # fmt: skip


def _pair(part: Part, heir: Part, rails: Rails, chosen: Chosen) -> Iterator[Rung]:
    """One rung where the part stays between its rails, else one there and one here."""
    before = tuple(rails.was_on.get(place) for place in _in_order(part, heir))
    after = _ends(heir, dict(rails.now_on))
    old, new = _label(part, {}), _label(heir, chosen)
    both = Rung(f"part {part.name}", part.kind, "kept", after, heir.terminals, old, new)
    if before == after or (turns_freely(part) and before == after[::-1]):
        yield both if same_part(part, heir) else replace(both, mark="replaced")
    elif before == after[::-1]:
        yield replace(both, mark="replaced", below="turned round")
    else:
        yield replace(both, mark="removed", ends=before, now=None, moved=True)
        yield replace(both, mark="new", was=None, moved=True)


def _in_order(part: Part, heir: Part) -> Iterator[str]:
    """The original's terminals in the order of the heir's."""
    for lug in heir.terminals:
        place = (heir.replaces or {}).get(lug)
        yield place if place is not None else part.terminal(lug)


_TOLD = frozenset({"place", "between", "replaces", "note", "where", "label", "layout"})
"""Fields that say where a part is, or how it is drawn, and not what it is."""


def same_part(one: Part, other: Part) -> bool:
    """Whether it is the very same part; what is only said about it does not count."""
    told = (f.name for f in fields(one) if f.name not in _TOLD)
    return type(one) is type(other) and all(getattr(one, n) == getattr(other, n) for n in told)


def tie_rungs(rails: Rails) -> Iterator[Rung]:
    """Nets that were one and are not, or are one and were not."""
    for number, tie in enumerate(rails.ties, 1):
        shows = f"tie:{number}"
        gone = Side(shows, "was one net, now parted") if tie.fate == "removed" else None
        come = Side(shows, "now one net") if tie.fate == "new" else None
        mark: Mark = "removed" if gone else "new"
        yield Rung(f"tie {number}", "tie", mark, tie.rails, ("", ""), gone, come)
