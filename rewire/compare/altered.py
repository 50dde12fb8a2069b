"""Altered: parts in their role whose value, rating or polarity marking is another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import isclose

from rewire.compare.findings import Finding
from rewire.compare.roles import Roles, has_role
from rewire.compare.words import quantity
from rewire.records.spec import (
    Capacitor,
    Diode,
    Meter,
    Part,
    Resistor,
    Spec,
    Wiring,
    total_ohms,
)


@dataclass(frozen=True, slots=True)
class Field:
    """One value of a part: what it is called, its unit, and which change is to be read first."""

    name: str
    word: str
    unit: str
    grave: Callable[[float, float], bool] = lambda was, now: False  # noqa: ARG005


def _less(was: float, now: float) -> bool:
    return now < was


_FIELDS: Mapping[str, tuple[Field, ...]] = {
    "meter": (Field("resistance", "resistance", "ohm"),),
    "resistor": (
        Field("rating_watts", "rating", "W", _less),
        Field("working_volts", "working volts", "V", _less),
    ),
    "pot": (Field("ohms", "", "ohm"), Field("rating_watts", "rating", "W", _less)),
    "capacitor": (Field("farads", "", "F"), Field("rating_volts", "rating", "V", _less)),
    "choke": (Field("henries", "", "H"), Field("resistance", "resistance", "ohm")),
    "diode": (),
    "lamp": (Field("rated_volts", "", "V"), Field("rated_amps", "current", "A")),
    "fuse": (
        Field("rated_amps", "", "A", lambda was, now: now > was),
        Field("resistance", "resistance", "ohm"),
    ),
}


def altered_parts(spec: Spec, other: Wiring, roles: Roles) -> Iterator[Finding]:
    """Parts in a role that differ from the original's, with both values."""
    for part in filter(has_role, spec.original.parts.values()):
        heir = heir_of(part, other, roles)
        if heir is None:
            continue
        if heir.kind != part.kind:
            yield _other_kind(part, heir)
            continue
        told = list(differences(part, heir))
        if told:
            named = heir.name if heir.name == part.name else f"{heir.name} for {part.name}"
            yield Finding(
                kind="altered",
                meant=False,
                message=f"{heir.kind} {named}: {'; '.join(text for text, _ in told)}",
                part=part.name,
                first=any(grave for _, grave in told),
            )


def _other_kind(part: Part, heir: Part) -> Finding:
    return Finding(
        kind="altered",
        meant=False,
        message=f"{heir.kind} {heir.name} stands in the place of {part.kind} {part.name}",
        part=part.name,
        first=True,
    )


def heir_of(part: Part, other: Wiring, roles: Roles) -> Part | None:
    """The one part that stands for all of another, None if there is none."""
    takers = roles.takers(part)
    whole = all(part.terminal(lug) in roles.seat for lug in part.terminals)
    return other.parts.get(takers[0]) if whole and len(takers) == 1 else None


def differences(was: Part, now: Part) -> Iterator[tuple[str, bool]]:
    """What differs in two parts of a kind, in words, and whether that is to be read first."""
    yield from _values(was, now)
    for field in _FIELDS[was.kind]:
        one, two = getattr(was, field.name), getattr(now, field.name)
        if one is None or two is None:  # what only one of them says is not known to differ
            continue
        if not isclose(one, two, rel_tol=1e-9):
            said = (_quantity(value, field.unit) for value in (one, two))
            yield _told(field.word, *said), field.grave(one, two)


def _values(was: Part, now: Part) -> Iterator[tuple[str, bool]]:
    """Values that are not one number: pieces, a full scale in its unit, a material, a plus."""
    if isinstance(was, Resistor) and isinstance(now, Resistor):
        ohms = [None if p.pieces is None else total_ohms(p.pieces) for p in (was, now)]
        if ohms[0] != ohms[1] and not isclose(ohms[0] or 0.0, ohms[1] or 0.0, rel_tol=1e-9):
            yield _told("", *(_quantity(value, "ohm", "to be found") for value in ohms)), False
    if isinstance(was, Meter) and isinstance(now, Meter):
        scales = [_full_scale(meter) for meter in (was, now)]
        if scales[0] != scales[1]:
            yield _told("full scale", *scales), True
        if was.ac != now.ac:
            yield _told("made for", *("AC" if m.ac else "DC" for m in (was, now))), True
    if isinstance(was, Diode) and isinstance(now, Diode):
        drops = [d.material or _quantity(d.forward_volts, "V") for d in (was, now)]
        if drops[0] != drops[1]:
            yield _told("", *drops), False
    if isinstance(was, Capacitor) and isinstance(now, Capacitor):
        plus = ["polarised" if c.polarised else "not polarised" for c in (was, now)]
        if plus[0] != plus[1]:
            yield _told("", *plus), False


def _told(word: str, was: str, now: str) -> str:
    return f"{word} {now} instead of {was}".strip()


def _quantity(value: float | None, unit: str, unknown: str = "not stated") -> str:
    return unknown if value is None else quantity(value, unit)


def _full_scale(meter: Meter) -> str:
    if meter.full_scale_amps is not None:
        return quantity(meter.full_scale_amps, "A")
    return _quantity(meter.full_scale_volts, "V")
