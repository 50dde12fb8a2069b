"""The plates of a spec's meters: which arcs, by which law, and what is said on their page."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from rewire.bench.movement_law import MovementLaw, movement_law
from rewire.draw.dial import DialRefused, Plate, dial_plate, plate_of
from rewire.draw.scene import Panel
from rewire.draw.true_size import at_true_size, face_down
from rewire.reading.benchlog import BenchLog
from rewire.reading.faults import Fault, SpecError
from rewire.records.panel import Dial
from rewire.records.parts import Meter
from rewire.records.spec import Spec, Wiring
from rewire.values.answers import WiringValues
from rewire.values.plate_arcs import PlateArc, plate_arcs
from rewire.words.wording import listing

Finish = frozenset[str]
"""``mirrored``, ``dark``, neither or both."""
MIRRORED, DARK = "mirrored", "dark"
_WORK = (
    "Photograph the old plate first. Better lay a print over a copy of it than open a sealed "
    "case. Figures that glow, or are brown and crumble, may be radium: leave the case shut.",
    "Inside: breathe on nothing, the hairspring bends for good; steel tools and filings fly to "
    "the magnet: brass tweezers, clean paper, away from the vice.",
)


@dataclass(frozen=True, slots=True)
class Drawn:
    """The page of one meter's plate."""

    meter: str
    panel: Panel


def dial_pages(
    spec: Spec, wiring: Wiring, values: WiringValues, readings: Collection[str] = (),
    log: BenchLog | None = None, finish: Finish = frozenset(),
) -> Iterator[Drawn]:  # fmt: skip
    """A page for each meter of a wiring that has a dial to be printed and something to read.

    Raises:
        SpecError: its arcs do not go on its plate, or what the log says is no law.
    """
    for name, meter in spec.all_of(Meter, wiring).items():
        readouts = [one for one in values.readings
                    if one.meter == name and (not readings or one.name in readings)]  # fmt: skip
        arcs = plate_arcs(wiring, meter, readouts)
        if meter.dial is None or not arcs:
            continue
        measured = log is not None and log.wiring == wiring.name
        every = [one.name for one in values.readings if one.meter == name]
        law = movement_law(log, wiring, every) if log is not None and measured else None
        plate = plate_of(meter.dial)
        try:
            drawn = dial_plate(meter.dial, arcs, law.at if law else float, DARK in finish)
        except DialRefused as refused:
            raise SpecError(
                [Fault(meter.place, f"{name}: {refused.message}", refused.hint)]
            ) from None
        left_out = {one.name for one in readouts} - {n for arc in arcs for n in arc.readings}
        said = [
            *_said(plate, arcs),
            _law_said(law),
            *_left(sorted(left_out)),
            _finish(meter.dial, finish),
        ]
        if MIRRORED in finish:
            drawn = face_down(drawn)
        title = f"A new plate for {name}, {wiring.name}"
        yield Drawn(name, at_true_size(title, [drawn], [*said, *_WORK]))


def _said(plate: Plate, arcs: tuple[PlateArc, ...]) -> Iterator[str]:
    yield f"Arcs from the outside: {'; '.join(arc.said for arc in arcs)}."
    if plate.assumed:
        yield f"Assumed, not given under dial: {'; '.join(plate.assumed)}. Measure yours."


def _law_said(law: MovementLaw | None) -> str:
    if law is None:
        return "Drawn for a linear movement; draw --log draws it to what yours was measured to do."
    share, off = law.worst
    return (
        f"Drawn to the movement's law by {law.measured} points of {law.reading}: a linear plate "
        f"would be up to {abs(100 * off):.1f} % of full scale off, at {100 * share:.0f} %."
    )


def _left(names: list[str]) -> Iterator[str]:
    if names:
        yield f"Without an arc: {listing(names)}, for the ohms its probes see are not known."


def _finish(dial: Dial, finish: Finish) -> str:
    cut = "Cut along the outer line; the small cross is the pivot."
    if dial.flaps:
        cut += " Fold the flaps back along the dashes."
    if MIRRORED in finish:
        cut = f"Mirrored: for a film that is laid face down. {cut}"
    return cut
