"""Words for the bench: lists of names and groups of anchors."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence

from rewire.compare.findings import Groups
from rewire.records.spec import Role

MOST_NAMED = 3
_AS_TOLD: Mapping[Role | None, str] = {
    "found": ", as found on the bench,",
    "tried": ", only tried,",
}


def as_told(role: Role | None) -> str:
    """What follows the name of a wiring that is no plan, before its verdict."""
    return _AS_TOLD.get(role, "")


def listing(names: Sequence[str], joining: str = "and") -> str:
    """``A``, ``A and B``, ``A, B and C``; a long list is cut with its count.

    >>> listing(["A", "B", "C"])
    'A, B and C'
    """
    names = list(names)
    if len(names) > 6:
        names = [*names[:5], f"{len(names) - 5} more"]
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {joining} {names[-1]}"


def group_name(group: Sequence[str], points: Container[str]) -> str:
    """A group by its points if it has any, else by its first anchors."""
    named = [anchor for anchor in group if anchor in points] or list(group)
    if len(named) <= MOST_NAMED:
        return "/".join(named)
    return "/".join(named[:MOST_NAMED]) + f" (and {len(named) - MOST_NAMED} more)"


def group_names(groups: Groups, points: Container[str], joining: str = "and") -> str:
    """All groups of a finding."""
    return listing([group_name(group, points) for group in groups], joining)


def ohm(value: float) -> str:
    """A limit as specs write it.

    >>> ohm(0.5), ohm(120.0), ohm(1e6)
    ('0.5 ohm', '120 ohm', '1 Mohm')
    """
    for size, prefix in ((1e6, "M"), (1e3, "k")):
        if value >= size:
            return f"{value / size:g} {prefix}ohm"
    return f"{value:g} ohm"


def quantity(value: float, unit: str) -> str:
    """A value with its unit, in the prefixes of the trade.

    >>> quantity(0.001, "A"), quantity(8e-6, "F"), quantity(450.0, "V")
    ('1 mA', '8 uF', '450 V')
    """
    if unit == "ohm":
        return ohm(value)
    prefixes = ((1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"))
    for size, prefix in prefixes:
        if value >= size:
            return f"{value / size:g} {prefix}{unit}"
    return f"{value:g} {unit}"
