"""What the card says: the whole swap on one page, from finished answers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache, partial
from itertools import product

from rewire import __version__
from rewire.bench.safety import hazards_of
from rewire.circuit.circuit import Case
from rewire.circuit.roles import forerunners
from rewire.compare.findings import Result
from rewire.compare.mounting import mountings
from rewire.draw.card import DANGER, Card, Drawing, card_scene
from rewire.draw.decks import deck_by_deck
from rewire.draw.diagram import chosen_values
from rewire.draw.hookup import hook_up
from rewire.draw.scene import MARGIN, PAPER, Panel, Paper, Scene, width_mm
from rewire.draw.schematic import schematic
from rewire.draw.sheets import CODES
from rewire.draw.symbols import Standard
from rewire.draw.template import knob_picture
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.report.card_blocks import briefly, card_blocks, timing_said
from rewire.report.check import wrong_facts
from rewire.values.answers import WiringValues
from rewire.values.solved import lug_volts
from rewire.values.sources import LugVolts
from rewire.words.quantity import with_unit

CARD = "card"
"""The key of its section, which is a page of its own, before all else."""
_MOST_VOLTS = 3
"""Different volts in the danger line, the highest ones."""
_MOST_NAMES = 8
_LINE = PAPER["a4"][0] - 2 * MARGIN - 6.0
"""Width of the danger line, mm."""
_TWO_LINES = 1.85 * _LINE
"""What two lines hold for certain, wherever the first is broken, mm."""
_MOST_WRONG = 3
_MOST_WIRES = 24
"""Beyond, the hook-up is drawn deck by deck."""
_TALLEST = 200.0
"""A taller circuit, mm, is no part of the card: ``--view circuit`` draws it."""
_HALF = 116.0
"""A circuit of this width leaves room beside it on A4, mm."""
_DECK = 95.0
"""Height of a deck with what is soldered to it, mm; it is higher where it must be."""
_HOOK_UP = 90.0
"""Height of the hook-up that is wished for, mm; it is higher where it must be."""
_VERDICTS = {"kept": "KEPT", "changed": "CHANGED, AS MEANT", "broken": "BROKEN"}


def card_of(spec: Spec, wiring: Wiring, result: Result | None, values: WiringValues | None) -> Card:
    """All that stands on a card but its pictures; without values where a limit was reached."""
    live = lug_volts(spec, wiring)
    broken = result is not None and result.verdict == "broken"
    return Card(
        title=spec.title,
        subtitles=tuple(_subtitles(spec, wiring)),
        verdict=verdict_said(wiring, result, values),
        broken=broken,
        dangers=tuple(_dangers(spec, wiring, live, result)),
        blocks=card_blocks(spec, wiring, result, values),
        foot=_foot(wiring),
        origin=f"rewire {__version__}, spec {spec.digest[:12]}",
        headings={"circuit": "Circuit, all positions"},
    )


def verdict_said(wiring: Wiring, result: Result | None, values: WiringValues | None) -> str:
    """In capitals, for the corner of a card; bad values count as much."""
    if result is None:
        return "AS THE MAKER BUILT IT"
    said = _VERDICTS[result.verdict]
    if result.verdict != "broken":
        return f"{said}, BUT VALUES BAD" if values is not None and values.bad else said
    return f"{said}: as it was found" if wiring.role == "found" else f"{said}: do not build"


def _subtitles(spec: Spec, wiring: Wiring) -> Iterator[str]:
    """What takes whose place; then who answers for the paper."""
    places = list(_in_place(spec, wiring))
    if places:
        yield "; ".join(places)
    elif spec.equipment:
        yield spec.equipment
    one = spec.document
    about = (
        f"wiring {wiring.name}",
        f"revision {one.revision}" if one.revision else "",
        one.date or "", one.licence or "", f"by {one.author}" if one.author else "",
    )  # fmt: skip
    yield ", ".join(said for said in about if said)


def _in_place(spec: Spec, wiring: Wiring) -> Iterator[str]:
    """Switches and meters with what they replace."""
    switches = spec.all_of(Switch, wiring)
    for name, part in wiring.parts.items():
        if name not in switches and not part.shows_readings:
            continue
        before = [one for one in forerunners(spec, wiring, part) if one.name != name]
        if before:
            both = [part, *before]
            new, *old = (
                f"{one.name} ({said})" for one, said in zip(both, _said(both), strict=True)
            )
            yield f"{new} for {', '.join(old)}"


def _said(parts: Sequence[Part]) -> Iterator[str]:
    """Each in short; the timing of switches where it is not the same, the rarer one alone."""
    timings = {tuple(timing_said(part)) for part in parts if isinstance(part, Switch)}
    for part in parts:
        timing = [*timing_said(part)] if isinstance(part, Switch) and len(timings) > 1 else []
        rarer = [said for said in timing if not said.endswith("break before make")]
        yield ", ".join((briefly(part), *(rarer if len(timing) > 1 else timing)))


def _dangers(
    spec: Spec, wiring: Wiring, live: Mapping[str, LugVolts], result: Result | None
) -> Iterator[str]:
    if result is not None and result.verdict == "broken":
        wrong = [group[0] for group in wrong_facts(result)]
        more = f"; and {len(wrong) - _MOST_WRONG} more" if len(wrong) > _MOST_WRONG else ""
        yield f"BROKEN: {'; '.join(one.message for one in wrong[:_MOST_WRONG])}{more}"
    for point in spec.points.values():
        if point.chassis and point.live:
            yield f"{point.name} IS LIVE: measure it against earth before you touch it"
    hazards = hazards_of(spec)
    if live:
        first = f" {hazards.cut_off}, wait, discharge, prove dead."
        yield volts_said(spec, wiring, live, first)
    if hazards.unknown:
        yield f"Volts not given, so dangerous until measured: {', '.join(hazards.unknown)}"
    own = tuple(f"{name}: " for name in wiring.parts)
    yield from (said for said in spec.cautions if said.startswith(own))


def volts_said(spec: Spec, wiring: Wiring, live: Mapping[str, LugVolts], then: str = "") -> str:
    """The highest volts, each with the lugs, parts and points that can stand there.

    Lugs of the switch come first, for they are where the hands are; as many are named as a line
    holds, or two lines where one is too short.
    """
    at: dict[str, list[tuple[int, str]]] = defaultdict(list)
    size: dict[str, float] = {}
    switches = spec.all_of(Switch, wiring)
    for place, volts in live.items():
        said = volts.figure.replace("-", "−")
        part, _, lug = place.partition(".")
        lugged = (lug if len(switches) == 1 else place) if part in switches else part
        at[said].append((0 if part in switches else 1 if lug else 2, lugged))
        size[said] = max(abs(volts.volts), size.get(said, 0.0))
    ordered = sorted(at, key=lambda said: -size[said])
    names = {said: list(dict.fromkeys(name for _, name in sorted(at[said]))) for said in ordered}
    line = ""
    counts = range(min(_MOST_VOLTS, len(ordered)), 0, -1)
    for room, count, most in product((_LINE, _TWO_LINES), counts, range(_MOST_NAMES, 0, -1)):
        left = min((size[said] for said in ordered[count:]), default=None)
        line = _volts_line({said: names[said] for said in ordered[:count]}, most, left) + then
        if width_mm(line, DANGER, bold=True) <= room:
            return line
    return line


def _volts_line(names: Mapping[str, Sequence[str]], most: int, left: float | None) -> str:
    """Volts with so many of their places; of the lower ones what is ``left``, the least of them."""
    told = [f"{said} on {_few(own, most)}" for said, own in names.items()]
    told += [] if left is None else [f"{with_unit(left, 'V', 3)} or more elsewhere"]
    return "; ".join(told) + ("" if told[-1].endswith("…") else ".")


def _few(names: Sequence[str], most: int) -> str:
    return ", ".join(names[:most]) + (" …" if len(names) > most else "")


def card_pages(
    spec: Spec,
    wiring: Wiring,
    result: Result | None,
    values: WiringValues | None,
    paper: Paper,
    symbols: Standard = "iec",
) -> tuple[Scene]:
    """The card of one wiring, on one page."""
    card = card_of(spec, wiring, result, values)
    return (card_scene(card, card_pictures(spec, wiring, values, symbols), paper),)


def card_pictures(
    spec: Spec, wiring: Wiring, values: WiringValues | None, symbols: Standard = "iec"
) -> dict[str, Drawing]:
    """What draws ``hook-up``, ``circuit`` and ``knob``, the best form of each first."""
    return {
        "hook-up": partial(_hook_up, spec, wiring),
        "circuit": partial(_circuit, spec, wiring, values, symbols),
        "knob": partial(_knob, spec, wiring),
    }


def _knob(spec: Spec, wiring: Wiring, _: float) -> Iterator[Panel]:
    """Where the knob of a new switch points, if that is not where the legend is."""
    for one in mountings(spec, wiring):
        if any(misfit.kind == "index" for misfit in one.misfits):
            yield knob_picture(one.pointing)
            return


def _hook_up(spec: Spec, wiring: Wiring, width: float) -> Iterator[Panel]:
    if len(wiring.wires) <= _MOST_WIRES:
        panel = _hooked_up(Case(spec, wiring), width)
        if panel is not None:
            yield panel
            return
    yield from deck_by_deck(spec, wiring, width, _DECK)


@lru_cache(maxsize=8)
def _hooked_up(case: Case, width: float) -> Panel | None:
    """Drawn once for the same records: it takes longest of all that is on a card."""
    return hook_up(case.spec, case.wiring, width, _HOOK_UP)


def _circuit(
    spec: Spec, wiring: Wiring, values: WiringValues | None, symbols: Standard, width: float
) -> Iterator[Panel]:
    """The circuit that carries the readings, wide and narrow; without readings there is none."""
    if values is None or not wiring.readings:
        return
    chosen = chosen_values(spec, wiring, values)
    drawn = [schematic(spec, wiring, chosen, room, symbols) for room in (width, _HALF)]
    yield from (panel for panel in dict.fromkeys(drawn) if panel.height <= _TALLEST)


def _foot(wiring: Wiring) -> str:
    coloured = any(wire.colour for wire in wiring.wires)
    return f"{'Colours: IEC 60757. ' if coloured else ''}Dots join. {CODES}"
