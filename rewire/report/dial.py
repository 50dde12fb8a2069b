"""The plates of a spec's meters: which arcs, by which law, and what is said on their page."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from rewire.bench.movement import MovementLaw, movement_law
from rewire.draw.dial import DialRefused, Plate, dial_plate, plate_of
from rewire.draw.scene import Panel, Text, visible
from rewire.draw.true_size import at_true_size, face_down
from rewire.reading.benchlog import BenchLog
from rewire.reading.faults import Fault, SpecError
from rewire.records.mount import Dial
from rewire.records.parts import Meter
from rewire.records.spec import Spec, Wiring
from rewire.report.packet import Packet, illustration
from rewire.report.section import Block, ReportSection, Words
from rewire.values.answers import WiringValues
from rewire.values.dial_arcs import PlateArc, plate_arcs
from rewire.words.wording import listing

Finish = frozenset[str]
"""``mirrored``, ``dark``, neither or both."""
MIRRORED, DARK = "mirrored", "dark"
PLATE_CARE = (
    "Photograph the old plate first. Better lay a print over a copy of it than open a sealed "
    "case. Figures that glow, or are brown and crumble, may be radium: leave the case shut.",
    "Inside: do not breathe on it, the hairspring bends for good; steel tools and filings fly to "
    "the magnet: brass tweezers, clean paper, away from the vice.",
)


@dataclass(frozen=True, slots=True)
class PlateWish:
    """What is asked of a plate."""

    readings: Collection[str] = ()
    """Those to be read on it; empty for all."""
    log: BenchLog | None = None
    """What was measured: it is drawn to that."""
    finish: Finish = frozenset()


@dataclass(frozen=True, slots=True)
class PlatePage:
    """One meter's plate, and what is said with it."""

    meter: str
    title: str
    plate: Panel
    said: tuple[str, ...]

    @property
    def panel(self) -> Panel:
        """A page of its own: title, what is said, the care it needs, the bar, the plate."""
        return at_true_size(self.title, [self.plate], (*self.said, *PLATE_CARE))


def dial_sections(packet: Packet) -> Iterator[ReportSection]:
    """The plate of each meter that has a dial to be printed, last: it is cut out."""
    blocks: list[Block] = []
    for wiring in packet.plans:
        for one in _plates(packet, wiring):
            blocks += (Words(one.title, bold=True), *(Words(said, mark="▫") for said in one.said))
            blocks.append(illustration("Plate, 1:1", at_true_size("", [one.plate], ())))
    care = [Words(said, mark="⚠") for said in PLATE_CARE] if blocks else []
    yield ReportSection("dial", "A new plate for the dial", (*care, *blocks))


def _plates(packet: Packet, wiring: Wiring) -> Iterator[PlatePage]:
    """Drawn to what the bench log says, where that is a law; else it is said why not."""
    spec, values = packet.spec, packet.values.get(wiring.name)
    if values is None:
        return
    log = packet.record.log if packet.record else None
    try:
        yield from [*dial_pages(spec, wiring, values, PlateWish(log=log))]
    except SpecError as refused:
        (fault, *_) = refused.faults
        why = f"Not drawn to the bench log: {fault.message}; {fault.hint}."
        for one in dial_pages(spec, wiring, values):
            yield replace(one, said=(why, *one.said))


def dial_pages(
    spec: Spec, wiring: Wiring, values: WiringValues, asked: PlateWish | None = None
) -> Iterator[PlatePage]:
    """A page for each meter of a wiring that has a dial to be printed and something to read.

    Raises:
        SpecError: its arcs do not go on its plate, or what the log says is no law.
    """
    wish = asked or PlateWish()
    for name, meter in spec.all_of(Meter, wiring).items():
        readouts = [one for one in values.readings if one.meter == name]
        wanted = [one for one in readouts if not wish.readings or one.name in wish.readings]
        arcs = plate_arcs(wiring, meter, wanted)
        if meter.dial is None or not arcs:
            continue
        log = wish.log if wish.log and wish.log.wiring == wiring.name else None
        law = movement_law(log, wiring, [one.name for one in readouts]) if log else None
        drawn = _drawn(meter, meter.dial, arcs, law, wish.finish)
        without = {one.name for one in wanted}.difference(*(arc.readings for arc in arcs))
        said = (
            *_arcs_said(plate_of(meter.dial), arcs, sorted(without)),
            *_names_left(drawn, arcs), _law_said(law, meter, wish.log),
            _work_said(meter.dial, wish.finish),
        )  # fmt: skip
        yield PlatePage(name, f"{name}, {wiring.name}: a new plate, 1:1", drawn, said)


def _drawn(
    meter: Meter, dial: Dial, arcs: Sequence[PlateArc], law: MovementLaw | None, finish: Finish
) -> Panel:
    try:
        drawn = dial_plate(dial, arcs, law.at if law else float, DARK in finish)
    except DialRefused as refused:
        fault = Fault(meter.place, f"{meter.name}: {refused.message}", refused.hint)
        raise SpecError([fault]) from None
    return face_down(drawn) if MIRRORED in finish else drawn


def _arcs_said(plate: Plate, arcs: Sequence[PlateArc], without: Sequence[str]) -> Iterator[str]:
    yield f"Arcs from the outside: {'; '.join(arc.said for arc in arcs)}."
    if without:
        yield f"Without an arc: {listing(without)}, for the ohms its probes see are not known."
    if plate.assumed:
        yield f"Assumed, not given under dial: {'; '.join(plate.assumed)}. Measure yours."


def _names_left(drawn: Panel, arcs: Sequence[PlateArc]) -> Iterator[str]:
    """Names for which the plate has no room."""
    lines = [one.text for one in drawn.items if isinstance(one, Text) and one.shows == "name"]
    said = " ".join(lines)
    left = [name for arc in arcs for name in arc.names if visible(name) not in said]
    if left:
        yield f"No room on the plate for: {'; '.join(left)}."


def _law_said(law: MovementLaw | None, meter: Meter, log: BenchLog | None) -> str:
    if law is not None:
        share, off = law.worst
        one_sided = meter.zero == "centre" and law.true[0] >= 0.0
        other = " Only one side of its zero was measured: the other is drawn as its mirror image, "
        other = f"{other}so measure that too before you trust it." if one_sided else ""
        far = f"{abs(100 * off):.1f} % of full scale off, at {100 * share:.0f} %"
        return (
            f"Drawn to the movement's law by {law.measured} points of {law.reading}: a linear "
            f"plate would be up to {far}.{other}"
        )
    if log is not None:
        return f"Drawn for a linear movement: the log has no calibration of it in {log.wiring}."
    return "Drawn for a linear movement; draw --log draws it to what yours was measured to do."


def _work_said(dial: Dial, finish: Finish) -> str:
    film = "Mirrored, for a film that is laid face down. " if MIRRORED in finish else ""
    folds = " Fold the flaps back along the dashes." if dial.flaps else ""
    return f"{film}Cut along the outer line; the small cross is the pivot.{folds}"
