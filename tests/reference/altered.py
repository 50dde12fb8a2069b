"""Parts in their role whose value, rating or polarity is not the original's."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tests.reference.circuit import LUGS, YES, kind_of
from tests.reference.rules import number
from tests.reference.view import claims

Part = Mapping[str, Any]

VALUES = {
    "meter": ("meter", "resistance"),
    "resistor": ("resistor", "rating", "working_volts"),
    "pot": ("pot", "rating"),
    "capacitor": ("capacitor", "rating", "polarised"),
    "choke": ("choke", "resistance"),
    "diode": ("diode",),
    "lamp": ("lamp", "current"),
    "fuse": ("fuse", "resistance"),
}
"""Per kind the keys that say its value, its rating and its polarity."""
UNSAID = {"polarised": "no", "resistance": "0 ohm"}
"""What a key that may be left out is then; a meter and a choke always say theirs."""


def in_role(spec: Mapping[str, Any], wiring: str) -> Iterator[tuple[str, Part, Part]]:
    """Name of an original part, that part, and the one that plays all its terminals."""
    stay = spec.get("parts", {})
    first = {**stay, **spec["wirings"]["original"].get("parts", {})}
    roles = claims(spec, wiring)
    for name, part in spec["wirings"][wiring].get("parts", {}).items():
        played = {roles[t] for t in roles if t.split(".")[0] == name}
        old = {terminal.split(".")[0] for terminal in played}
        if len(old) == 1 and len(played) == len(LUGS[kind_of(first[min(old)])]):
            yield min(old), first[min(old)], part


def told(part: Part, key: str) -> float | str | None:
    """What a part says under a key, as a number where it is one."""
    text = str(part.get(key, UNSAID.get(key, "")))
    if key == "polarised":
        return str(text in YES)
    return number(text) if text[:1].isdigit() else text or None


def comes_first(kind: str, key: str, old: Any, new: Any) -> bool:
    """A fuse of more amperes, a rating that is less, a meter of another full scale."""
    less = key in ("rating", "working_volts") and new < old
    return less or (key == "fuse" and new > old) or (kind == "meter" and key == "meter")


def altered_parts(spec: Mapping[str, Any], wiring: str) -> dict[str, bool | None]:
    """Name of each original part that is altered, and whether that is to be read first.

    None where the text does not say which: another kind of part plays its terminals. What only
    one of the two says is not known to differ.
    """
    found: dict[str, bool | None] = {}
    for name, old, new in in_role(spec, wiring):
        kind = kind_of(old)
        if kind_of(new) != kind:
            found[name] = None
            continue
        pairs = [(key, told(old, key), told(new, key)) for key in VALUES[kind]]
        known = [one for one in pairs if None not in one and "unknown" not in one]
        differ = [one for one in known if one[1] != one[2]]
        if differ:
            found[name] = any(comes_first(kind, *one) for one in differ)
    return found
