"""What can hurt, said on paper: from the spec's points and parts, and what is always true.

The limit of 50 V is the project's own (the contract's); which voltage is dangerous depends on
the place, and local codes come first.
"""

from __future__ import annotations

from collections.abc import Iterator

from rewire.spec.model import Capacitor, Meter, Point, Spec

LIMIT = 50.0
LOCAL_CODES = (
    "Local codes and licensed practice come first. This sheet is an aid to somebody who is "
    "qualified to do the work; where it and a code differ, the code holds."
)


def cautions_of(spec: Spec) -> list[str]:
    """All cautions of a sheet, what is particular to this equipment first."""
    return [*_live_chassis(spec), *_high(spec), *_unknown(spec), *spec.cautions, *_usual(spec),
            LOCAL_CODES]  # fmt: skip


def _live_chassis(spec: Spec) -> Iterator[str]:
    for point in spec.points.values():
        if point.chassis and point.live:
            yield (
                f"{point.name} is live: the set has no mains transformer. Work on it only behind "
                "an isolating transformer, and touch no metal of it while it is plugged in."
            )


def _high(spec: Spec) -> Iterator[str]:
    named = [said for p in spec.points.values() if (said := _volts(p))]
    if named:
        yield (
            f"50 V or more at {', '.join(named)}. Unplug, wait, discharge, and prove dead with "
            "a meter that was proved on a known source before and after."
        )


def _volts(point: Point) -> str | None:
    """The point with its volts, where those reach the limit."""
    volts = point.volts if point.volts is not None else 0.0
    rises = point.rises_to if point.rises_to is not None else 0.0
    if max(abs(volts), abs(rises)) < LIMIT:
        return None
    kind = " AC" if point.ac else ""
    stands = f"{point.volts:g} V{kind}" if point.volts is not None else "volts not given"
    up = f", rises to {rises:g} V with its load off" if point.rises_to is not None else ""
    return f"{point.name} ({stands}{up})"


def _unknown(spec: Spec) -> Iterator[str]:
    names = [
        p.name
        for p in spec.points.values()
        if p.volts is None and not p.chassis and _volts(p) is None
    ]
    if names:
        yield f"Voltage not given, so take it as dangerous until measured: {', '.join(names)}."


def _usual(spec: Spec) -> Iterator[str]:
    parts = [p for w in spec.wirings.values() for p in spec.parts_of(w).values()]
    held = [p.name for p in parts if isinstance(p, Capacitor)]
    here = f" (here {', '.join(dict.fromkeys(held))})" if held else ""
    yield (
        f"Capacitors{here} hold their charge after the mains is off: discharge each through a "
        "resistor and measure it before touching anything near."
    )
    if any(isinstance(p, Meter) for p in parts):
        yield (
            "A meter in a high-voltage lead carries that voltage on its terminals, its movement "
            "and its zero screw: set the zero with the power off."
        )
        yield (
            "Old dials and pointers may be painted with radium: do not open, scrape or dust them."
        )
    yield "Where the equipment transmits, RF burns deep: key it into a dummy load only."
