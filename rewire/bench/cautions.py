"""What can hurt, and only where the spec gives cause: for the list, the sheet, the page, pictures.

The spec's own cautions come first, the sentence on local codes last. The limit of 50 V is the
project's own; which voltage is dangerous depends on where one is, and local codes come first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from rewire.records.spec import Capacitor, Meter, Part, Spec, Task, Wire
from rewire.values.live import most_volts
from rewire.values.lug_volts import high_points, lug_volts

LOCAL_CODES = (
    "Local codes and licensed practice come first: this is an aid to somebody who is qualified to "
    "do the work, and where it and a code differ, the code holds."
)
BIG = 1000.0
"""Volts from which a capacitor is bled through a resistor and then shorted; common practice."""
_MAINS_VOLTS = 90.0
_MOST = 5
"""Lines of cautions that somebody reads before he begins; the spec's own are never fewer."""

_SELENIUM = (
    "Selenium cells and rectifiers: do not solder on the plates, break or burn them, the fumes are "
    "poisonous"
)
_OIL = (
    "Oil-filled capacitors may hold PCB: do not open one, keep your skin off a leak, hand it in as "
    "hazardous waste"
)
_RADIUM = (
    "An old dial may be painted with radium: do not scrape, wipe or dust it, and leave it to "
    "somebody equipped for that if it may be"
)
_RUBBER = "Perished rubber falls off its wire when it is bent: replace it, do not tape it"
_ASBESTOS = "Sleeving may be asbestos: do not cut, strip or brush it dry"
_LEAD = (
    "A lead battery feeds hundreds of amperes into a dropped spanner and gives off gas that "
    "explodes: take its minus lead off first, no sparks, eyes covered"
)
_RF = "RF burns deep: key the equipment into a dummy load only"
_CAUSES = (
    (r"\brf\b|radio frequency|transmit|\bexciter\b|key(ed)? down", r"\brf\b", _RF),
    (r"radium|luminous|(dial|glass)[^.;]{0,30}\b(open|glue|swap|crack|broke|repaint|scrape)"
     r"|(open|swap|repaint)\w*[^.;]{0,20}\bdial", r"radium", _RADIUM),
    (r"selenium", r"selenium[^.;]*(solder|break|burn|poison)", _SELENIUM),
    (r"\boil[- ](filled|capacitor)|paper[- ]in[- ]oil|\bpcbs?\b", r"\bpcbs?\b", _OIL),
    (r"\brubber\b|\bperished\b", r"\brubber\b|\bperished\b", _RUBBER),
    (r"asbestos", r"asbestos", _ASBESTOS),
    (r"lead[- ]acid|lead batter|accumulator|\b(6|12|24) v batter|battery charger",
     r"lead[- ]acid|lead batter|accumulator", _LEAD),
)  # fmt: skip
"""What in a spec's text is cause, what in its own cautions says it already, and the caution."""


def cautions_of(spec: Spec) -> tuple[str, ...]:
    """The spec's own cautions, what its points and texts give cause for, and local codes."""
    own = " ".join(spec.cautions).lower()
    told = [" ".join(_volts(spec, own)), " ".join(f"{one}." for one in _special(spec, own))]
    ours = [line for line in told if line]
    if len(spec.cautions) + len(ours) >= _MOST:
        ours = [" ".join(ours)]
    return (*spec.cautions, *_live_chassis(spec), *ours, LOCAL_CODES)


def _live_chassis(spec: Spec) -> Iterator[str]:
    for point in spec.points.values():
        if point.chassis and point.live:
            yield (
                f"{point.name} is live, there is no mains transformer: unplugged or not, measure "
                "it against earth before touching it, and test behind an isolating transformer "
                "only."
            )


def _volts(spec: Spec, own: str) -> Iterator[str]:
    high = [f"{p.name} {most_volts(p):g} V{' AC' if p.ac else ''}" for p in high_points(spec)]
    if high:
        yield f"50 V or more at {', '.join(high)}."
    unknown = unknown_points(spec)
    if unknown:
        yield f"Volts not given, so dangerous until measured: {', '.join(unknown)}."
    if holds_charge(spec):
        first = "Unplug" if has_mains(spec) else "Cut off every supply"
        yield f"{first}, wait, open, discharge, prove dead with a meter rated for it."
    if "zero screw" not in own:
        yield from _meters(spec)


def _meters(spec: Spec) -> Iterator[str]:
    """Meters that stand at 50 V or more."""
    found: dict[str, None] = {}
    for wiring in spec.wirings.values():
        meters = [p for p in spec.parts_of(wiring).values() if isinstance(p, Meter)]
        volts = lug_volts(spec, wiring) if meters else {}
        found.update((m.name, None) for m in meters for t in m.terminals if m.terminal(t) in volts)
    if found:
        yield (
            f"{' and '.join(found)} can stand at those volts, zero screw and all: set the zero "
            "with the power off."
        )


def _special(spec: Spec, own: str) -> Iterator[str]:
    """Hazards that a text of the spec gives cause for, and its own cautions do not tell."""
    text = texts_of(spec)
    for cause, told, caution in _CAUSES:
        high_oil = caution is _OIL and is_big(spec)
        if (re.search(cause, text) or high_oil) and not re.search(told, own):
            yield caution


def texts_of(spec: Spec) -> str:
    """All that the spec says in words, in small letters."""
    return " \n ".join(text for text in _texts(spec) if text).lower()


def _texts(spec: Spec) -> Iterator[str | None]:
    yield from (spec.title, spec.equipment, spec.summary, *spec.cautions)
    for point in spec.points.values():
        yield from (point.where, point.note)
    for found in spec.found:
        yield from (found.what, found.where, found.why)
    for task in (*spec.before, *spec.after):
        yield from _of_task(task)
    for test in spec.acceptance:
        yield from (test.test, test.how)
    parts: dict[str, Part] = dict(spec.parts)
    for wiring in spec.wirings.values():
        parts |= wiring.parts
        yield from (_of_wire(wire) for wire in wiring.wires)
        yield from (part.note for part in parts.values())


def _of_task(task: Task) -> Iterator[str | None]:
    yield from (task.do, task.caution)


def _of_wire(wire: Wire) -> str | None:
    return wire.note


def unknown_points(spec: Spec) -> list[str]:
    """Points of which no volts are given."""
    return [
        p.name
        for p in spec.points.values()
        if p.volts is None and p.rises_to is None and not p.chassis
    ]


def has_mains(spec: Spec) -> bool:
    """Whether a text, or a point of the mains' volts, says that the equipment has mains."""
    text = texts_of(spec)
    if re.search(r"\bmains\b", text):
        return True
    if re.search(r"\bunplug|\bthe plug\b", text) and not re.search(r"\bbatter", text):
        return True
    return any(p.ac and abs(most_volts(p)) >= _MAINS_VOLTS for p in spec.points.values())


def is_big(spec: Spec) -> bool:
    """Whether there are capacitors at a thousand volts or more."""
    rated = [p.rating_volts or 0.0 for p in capacitors_of(spec)]
    return (
        any(abs(most_volts(p)) >= BIG for p in spec.points.values())
        or max(rated, default=0.0) >= BIG
    )


def capacitors_of(spec: Spec) -> list[Capacitor]:
    """The capacitors that the spec names, each once."""
    parts = [p for w in spec.wirings.values() for p in spec.parts_of(w).values()]
    return list({p.name: p for p in parts if isinstance(p, Capacitor)}.values())


def holds_charge(spec: Spec) -> bool:
    """Whether something can still bite with the supply off: mains, high or unknown volts."""
    return bool(has_mains(spec) or high_points(spec) or unknown_points(spec) or capacitors_of(spec))
