"""Starter specs: invented sets with a comment at every key, to be changed into one's own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib import resources

from rewire.records.switches import pole_letters, read_form

KINDS = ("meter-switch", "meter", "jack")
TITLES = {
    "meter-switch": "Meter switch of an invented amplifier",
    "meter": "Panel meter of an invented charger",
    "jack": "Metering jack of an invented exciter",
}
FORM = "3P3T"
"""The form of the starter's switch where none is asked for."""
MOST_POLES, MOST_THROWS = 12, 12
_TIMING_OF_THREE = "{A: non-shorting, B: non-shorting, C: shorting}"
_RULES = """
# Connections that must or must not exist, whatever the original did.
rules:
  - connect: [SUPPLY, LOAD]
    while_switching: yes
    why: the load must not drop out while the meter is switched
"""


class UnfitForm(ValueError):
    """A form that no meter switch has; the text says which would do."""


def starter(kind: str, file: str, title: str | None = None, form: str = FORM) -> str:
    """The text of a starter spec.

    Args:
        kind: one of ``KINDS``.
        file: the name it will have, for the commands in its first comment.
        title: its title; None for one of its own.
        form: of the switch, ``3P4T`` say; for a meter switch alone.

    Raises:
        UnfitForm: a form with fewer than two poles or throws, or no form at all.
    """
    text = resources.files(__package__).joinpath(f"{kind}.yaml").read_text("utf-8")
    if kind == "meter-switch":
        text = _with_form(text, form)
    # In a comment: nothing in a name may end the line.
    name = file if file.isprintable() else "FILE"
    return text.replace("@FILE@", name).replace("@TITLE@", _quoted(title or TITLES[kind]))


def _quoted(title: str) -> str:
    """A text in double quotes, as YAML and JSON both write it."""
    return json.dumps(title, ensure_ascii=not title.isprintable())


def _with_form(text: str, form: str) -> str:
    poles, throws = _read(form)
    positions = ", ".join(f"V{n}" for n in range(1, throws + 1))
    fields = {
        "@POSITIONS@": positions,
        "@POINTS@": "\n".join(_points(poles, throws)),
        "@SHUNTS@": "\n".join(_shunts(throws)),
        "@READINGS@": "\n".join(_readings(throws)),
        "@RULES@": _RULES if poles > 2 else "",
        "@FORM@": form.upper(),
        "@POLES@": str(poles),
        "@THROWS@": str(throws),
        "@TIMING@": _TIMING_OF_THREE if poles > 2 else "non-shorting",
        "@WIRES1@": "\n".join(_wires("S1", poles, throws)),
        "@WIRES2@": "\n".join(_wires("S2", poles, throws)),
    }
    for mark, said in fields.items():
        text = text.replace(mark, said)
    return text


def _read(form: str) -> tuple[int, int]:
    found = read_form(form.upper())
    if found is None:
        raise UnfitForm("a form is poles and throws: DPDT, 3P3T, 2P6T")
    poles, throws = found
    if not (2 <= poles <= MOST_POLES and 2 <= throws <= MOST_THROWS):
        raise UnfitForm(
            f"a meter switch has two poles or more and two throws or more, here at most "
            f"{MOST_POLES} and {MOST_THROWS}"
        )
    return poles, throws


def _points(poles: int, throws: int) -> Iterator[str]:
    for n in range(1, throws + 1):
        yield (
            f"  CATHODE{n}: {{volts: 0.05 V, rises_to: 40 V, source_resistance: 470 ohm, "
            f"where: cathode of valve {n}}}"
        )
    if poles > 2:
        yield "  SUPPLY: {volts: 12 V, source_resistance: 1 ohm, where: tag 1 of the strip}"
        yield "  LOAD: {volts: 12 V, where: tag 2 of the strip, note: fed through the meter switch}"


def _shunts(throws: int) -> Iterator[str]:
    for n in range(1, throws + 1):
        between = f"between: [CATHODE{n}, CHASSIS]"
        yield f"  R{n}: {{resistor: 1 ohm, tolerance: 1 %, rating: 1 W, {between}}}"


def _readings(throws: int) -> Iterator[str]:
    for n in range(1, throws + 1):
        yield f"  valve_{n}:"
        yield f"    when: {{METER: V{n}}}"
        yield f"    current: [CATHODE{n}, CHASSIS]"
        yield "    full_scale: 100 mA"


def _wires(switch: str, poles: int, throws: int) -> Iterator[str]:
    """Pole A: meter plus to each cathode. B: meter minus to chassis. C: the supply of the load."""
    letters = pole_letters(poles)
    yield "      # pole A, meter plus"
    yield f"      - [{switch}.A, M1.+, RD]"
    yield from (f"      - [{switch}.A{n}, CATHODE{n}, YE]" for n in range(1, throws + 1))
    yield "      # pole B, meter minus"
    yield f"      - [{switch}.B, M1.-, BK]"
    yield from _chain(switch, "B", throws)
    yield f"      - [{switch}.B1, CHASSIS, BK]"
    if poles > 2:
        yield "      # pole C does not read anything: easily overlooked"
        yield f"      - [SUPPLY, {switch}.C, BU]"
        yield from _chain(switch, "C", throws)
        yield f"      - [{switch}.C1, LOAD, BU]"
    if poles > 3:
        yield f"      # spare: {', '.join(letters[3:])}"


def _chain(switch: str, pole: str, throws: int) -> Iterator[str]:
    for n in range(1, throws):
        yield f"      - [{switch}.{pole}{n}, {switch}.{pole}{n + 1}]"
