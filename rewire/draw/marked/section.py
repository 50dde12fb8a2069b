"""The changed section: what is drawn, in which order, and what numbers it carries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rewire.draw.marked.contacts import contact_rungs
from rewire.draw.marked.rails import Rails, rails_of
from rewire.draw.marked.rungs import Rung, part_rungs, tie_rungs
from rewire.draw.marked.values import Chosen
from rewire.records.spec import Spec, Wiring

_KINDS = ("tie", "meter", "pot", "contact")
_MARKS = ("kept", "replaced", "removed", "new")


@dataclass(frozen=True, slots=True)
class Section:
    """Everything that one picture shows."""

    rails: Rails
    drawn: tuple[Rung, ...]
    aside: tuple[Rung, ...]
    """Not drawn: joined to nothing, or staying away from all that is changed."""
    numbers: Mapping[str, int]
    """Key of a rung → its number in picture and table; what is kept has none."""


def section_of(spec: Spec, wiring: Wiring, chosen: Chosen) -> Section:
    """The changed section of a wiring against the original."""
    rails = rails_of(spec, wiring)
    rungs = [
        *tie_rungs(rails), *part_rungs(spec, wiring, rails, chosen),
        *contact_rungs(spec, wiring, rails),
    ]  # fmt: skip
    loose = [rung for rung in rungs if _joins_nothing(rung)]
    joined = [rung for rung in rungs if not _joins_nothing(rung)]
    chassis = {r.number for r in rails.rails if any(spec.points[p].chassis for p in r.points)}
    near = _reached(joined, chassis)
    drawn = _in_order([joined[n] for n in sorted(near)])
    away = [rung for number, rung in enumerate(joined) if number not in near]
    return Section(
        rails,
        tuple(drawn),
        (*loose, *away),
        _numbers([*drawn, *(rung for rung in loose if rung.kind != "contact")]),
    )


def _joins_nothing(rung: Rung) -> bool:
    """A part on no net at all, or a contact with a spare lug or between lugs of one net."""
    if rung.kind == "contact":
        return None in rung.ends or rung.ends[0] == rung.ends[1]
    return all(end is None for end in rung.ends)


def _reached(rungs: Sequence[Rung], chassis: set[int]) -> set[int]:
    """Numbers of the rungs that are changed, or hang on changed ones.

    At the chassis the section ends, but for what lies between two rails that are in it.
    """
    inside = {n for n, rung in enumerate(rungs) if rung.mark != "kept" or rung.touched}
    seen = {end for n in inside for end in rungs[n].ends}
    growing = True
    while growing:
        more = {
            n for n, rung in enumerate(rungs)
            if n not in inside and _hangs_on(rung, seen, chassis)
        }  # fmt: skip
        inside |= more
        seen.update(end for n in more for end in rungs[n].ends)
        growing = bool(more)
    return inside


def _hangs_on(rung: Rung, seen: set[int | None], chassis: set[int]) -> bool:
    ends = {end for end in rung.ends if end is not None}
    return ends <= seen or bool((ends & seen) - chassis)


def _in_order(rungs: Sequence[Rung]) -> list[Rung]:
    """Meter first, then the poles by their letters with old and new together, then the rest."""
    first = {rung.key: number for number, rung in reversed(list(enumerate(rungs)))}

    def place(rung: Rung) -> tuple[int, str, int, int]:
        kind = _KINDS.index(rung.kind) if rung.kind in _KINDS else len(_KINDS)
        pole = rung.group.rpartition(" ")[2]
        return kind, pole, _MARKS.index(rung.mark) if pole else 0, first[rung.key]

    return sorted(rungs, key=place)


def _numbers(rungs: Iterable[Rung]) -> dict[str, int]:
    numbers: dict[str, int] = {}
    for rung in rungs:
        if rung.mark != "kept":
            numbers.setdefault(rung.key, len(numbers) + 1)
    return numbers
