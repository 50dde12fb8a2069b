"""Altered: parts in their role whose value, rating or polarity marking is another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import isclose
from typing import Any

from rewire.compare.findings import Finding
from rewire.compare.roles import Roles, has_role
from rewire.compare.words import quantity
from rewire.spec.model import Part, Resistor, Spec, Wiring, total_ohms


@dataclass(frozen=True, slots=True)
class Field:
    """One value of a part: what it is called, its unit, and which change is grave."""

    name: str
    word: str
    unit: str
    grave: Callable[[float, float], bool] = lambda was, now: False  # noqa: ARG005


def _less(was: float, now: float) -> bool:
    return now < was


def _more(was: float, now: float) -> bool:
    return now > was


_FIELDS: Mapping[str, tuple[Field, ...]] = {
    "meter": (
        Field("full_scale_amps", "full scale", "A", lambda was, now: was != now),
        Field("full_scale_volts", "full scale", "V", lambda was, now: was != now),
        Field("resistance", "resistance", "ohm"),
    ),
    "resistor": (
        Field("rating_watts", "rating", "W", _less),
        Field("working_volts", "working volts", "V", _less),
    ),
    "pot": (Field("ohms", "", "ohm"), Field("rating_watts", "rating", "W", _less)),
    "capacitor": (Field("farads", "", "F"), Field("rating_volts", "rating", "V", _less)),
    "choke": (Field("henries", "", "H"), Field("resistance", "resistance", "ohm")),
    "diode": (Field("forward_volts", "forward", "V"),),
    "lamp": (Field("rated_volts", "", "V", _less), Field("rated_amps", "", "A")),
    "fuse": (Field("rated_amps", "", "A", _more), Field("resistance", "resistance", "ohm")),
}


def altered_parts(spec: Spec, other: Wiring, roles: Roles) -> Iterator[Finding]:
    """Parts in a role that differ from the original's, with both values."""
    for part in filter(has_role, spec.original.parts.values()):
        heir = heir_of(part, other, roles)
        if heir is None:
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


def heir_of(part: Part, other: Wiring, roles: Roles) -> Part | None:
    """The one part that stands for all of another, None if there is none."""
    seats = {roles.seat.get(part.terminal(lug), "").partition(".")[0] for lug in part.terminals}
    return other.parts.get(seats.pop()) if len(seats) == 1 else None


def differences(was: Part, now: Part) -> Iterator[tuple[str, bool]]:
    """What differs, in words, and whether that is to be read first."""
    if was.kind != now.kind:
        yield f"a {now.kind} in the place of a {was.kind}", True
        return
    if isinstance(was, Resistor) and isinstance(now, Resistor) and was.pieces and now.pieces:
        yield from _differ("", "ohm", total_ohms(was.pieces), total_ohms(now.pieces))
    for field in _FIELDS[was.kind]:
        one, two = getattr(was, field.name), getattr(now, field.name)
        if one is None or two is None:
            continue
        for text, _ in _differ(field.word, field.unit, one, two):
            yield text, field.grave(one, two)
    yield from _marking(was, now)


def _differ(word: str, unit: str, was: float, now: float) -> Iterator[tuple[str, bool]]:
    if not isclose(was, now, rel_tol=1e-9):
        name = f"{word} " if word else ""
        yield f"{name}{quantity(now, unit)} instead of {quantity(was, unit)}", False


def _marking(was: Any, now: Any) -> Iterator[tuple[str, bool]]:
    """What is said in words: material of a diode, plus of a capacitor, unit of a meter."""
    if was.kind == "meter" and (was.full_scale_amps is None) != (now.full_scale_amps is None):
        yield f"full scale {_full_scale(now)} instead of {_full_scale(was)}", True
    if was.kind == "diode" and was.material != now.material:
        yield f"{now.material or 'no material'} instead of {was.material or 'none'}", False
    if was.kind == "capacitor" and was.polarised != now.polarised:
        yield (
            ("has a plus" if now.polarised else "has no plus")
            + ", the original's "
            + ("has one" if was.polarised else "has none"),
            False,
        )


def _full_scale(meter: Any) -> str:
    if meter.full_scale_amps is not None:
        return quantity(meter.full_scale_amps, "A")
    return quantity(meter.full_scale_volts, "V")
