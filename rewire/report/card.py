"""What the card says: the whole swap on one page, from finished answers."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import ceil, isfinite

from rewire import __version__
from rewire.bench.moves import default_source, moves_of
from rewire.bench.probes import Probe, continuity, expected, states_to_buzz
from rewire.bench.safety import hazards_of, power_steps
from rewire.bench.work_list import Moves, WorkStep
from rewire.circuit import LimitReached
from rewire.compare.findings import INFORMATION, Result
from rewire.compare.roles import roles_between
from rewire.draw.card import Card, CardBlock, CardCell, CardLine, Drawing, card_scene
from rewire.draw.hookup import sound_hook_up
from rewire.draw.lugview import lug_view
from rewire.draw.metering import not_metering
from rewire.draw.scene import MARGIN, PAPER, Paper, Scene
from rewire.draw.schematic import chosen_values, schematic
from rewire.draw.sheets import CODES, footed, on_a_sheet
from rewire.draw.symbols import Standard
from rewire.reading.benchlog import dial_ends
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.spec import Reading, Spec, Wiring, change_said
from rewire.records.switches import Switch
from rewire.report.check import together
from rewire.report.measured import marked
from rewire.report.options import options_table
from rewire.values.answers import PotAnswer, Readout, WiringValues
from rewire.values.lug_volts import LugVolts
from rewire.values.options import option_rows
from rewire.values.solved import lug_volts
from rewire.words.quantity import in_ohms, with_unit
from rewire.words.wording import listing

_UNITS = {"current": "A", "voltage": "V"}
_MOST_VOLTS = 3
"""Different volts in the danger line, the highest ones."""
_LINE = 130
"""Characters that they may take together."""
_MOST_TOUCHES = 4
_MOST_POWER = 2
_MOST_WRONG = 3
_MOST_POLES = 3
_MOST_WIRES = 24
"""Beyond, each switch has a page of its own."""
_HOOK_UP = 90.0
"""Height of the hook-up that is wished for, mm; it is higher where it must be."""
_BROKEN = "BROKEN: this wiring does not keep what the original did"
_SLACK = 1e-6
_TIMINGS = {"shorting": "make before break", "non-shorting": "break before make"}
_VERDICTS = {"kept": "KEPT", "changed": "CHANGED, AS MEANT", "broken": "BROKEN"}


def card_of(spec: Spec, wiring: Wiring, result: Result | None, values: WiringValues | None) -> Card:
    """All that stands on the card of a wiring, but for its pictures.

    Args:
        spec: the swap, its wires numbered.
        wiring: what is to be built; any other where there is no plan.
        result: its comparison with the original; None for the original.
        values: its values; None where a limit was reached.
    """
    live, moves = lug_volts(spec, wiring), _moves(spec, wiring)
    broken = result is not None and result.verdict == "broken"
    return Card(
        title=spec.title,
        subtitles=tuple(_subtitles(spec, wiring)),
        verdict=_verdict(wiring, result),
        broken=broken,
        dangers=tuple(_dangers(spec, wiring, live, result)),
        hook_up=CardBlock(""),
        circuit="Circuit, all positions",
        buy=CardBlock("Buy", rows=tuple(_buy(moves, wiring, values)) if moves else ()),
        reads=_reads(wiring, values),
        meters=_meters(spec, wiring),
        before=CardBlock(
            "Before it is switched on: no power until all of it is so",
            lines=tuple(_before(spec, wiring, values, result))
        ),
        foot=_foot(wiring),
        origin=_origin(spec),
    )  # fmt: skip


def _moves(spec: Spec, wiring: Wiring) -> Moves | None:
    source = default_source(spec)
    if wiring.role != "plan" or wiring.name == source:
        return None
    try:
        return moves_of(spec, source, wiring.name)
    except LimitReached:
        return None


def _verdict(wiring: Wiring, result: Result | None) -> str:
    if result is None:
        return "AS THE MAKER BUILT IT"
    said = _VERDICTS[result.verdict]
    if result.verdict != "broken":
        return said
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
    yield " · ".join(said for said in about if said)


def _in_place(spec: Spec, wiring: Wiring) -> Iterator[str]:
    """Switches and meters with what they replace."""
    if wiring is spec.original:
        return
    roles, gone = roles_between(spec, wiring), spec.original.parts
    switches = spec.all_of(Switch, spec.original)
    for name, part in wiring.parts.items():
        if isinstance(part, Switch):
            before = [n for n, old in switches.items() if old.control == part.control and n != name
                      and n in gone and n not in wiring.parts]  # fmt: skip
        elif part.shows_readings:
            before = [n for n in roles.forerunners(name) if n in gone and n != name]
        else:
            continue
        if before:
            old = ", ".join(f"{n} ({_briefly(gone[n])})" for n in before)
            yield f"{name} ({_briefly(part)}) in place of {old}"


def _briefly(part: Part) -> str:
    """What a part is, without its scales, ratings and the timing of single decks."""
    if isinstance(part, Switch):
        timing = {section.timing for section in part.sections}
        said = _TIMINGS.get(timing.pop(), "") if len(timing) == 1 else ""
        first = f"{part.form} {part.style or 'switch'}" if part.value else part.style or "switch"
        return ", ".join(filter(None, (first, said)))
    if isinstance(part, Meter) and part.resistance is not None:
        return f"{part.value}, {in_ohms(part.resistance)}"
    return part.value


def _dangers(
    spec: Spec, wiring: Wiring, live: Mapping[str, LugVolts], result: Result | None
) -> Iterator[str]:
    if result is not None and result.verdict == "broken":
        wrong = [group[0] for group in together(_unmeant(result))]
        more = f"; and {len(wrong) - _MOST_WRONG} more" if len(wrong) > _MOST_WRONG else ""
        yield f"BROKEN: {'; '.join(one.message for one in wrong[:_MOST_WRONG])}{more}"
    for point in spec.points.values():
        if point.chassis and point.live:
            yield f"{point.name} IS LIVE: measure it against earth before you touch it"
    hazards = hazards_of(spec)
    if live:
        first = "Unplug" if hazards.mains else "Cut off every supply"
        yield f"{volts_said(spec, wiring, live)}. {first}, wait, discharge, prove dead."
    if hazards.unknown:
        yield f"Volts not given, so dangerous until measured: {listing(hazards.unknown)}"


def _unmeant(result: Result) -> list:  # type: ignore[type-arg]
    return [f for f in result.findings if not f.meant and f.kind not in INFORMATION]


def volts_said(spec: Spec, wiring: Wiring, live: Mapping[str, LugVolts]) -> str:
    """The highest volts, each with the lugs, parts and points that can stand there.

    Lugs of the switch come first, for they are where the hands are. As many are named as a line
    or so holds.
    """
    at: dict[str, list[tuple[int, str]]] = defaultdict(list)
    size: dict[str, float] = {}
    switches = spec.all_of(Switch, wiring)
    for place, volts in live.items():
        said = f"{float(f'{volts.volts:.3g}'):g} V{' AC' if volts.ac else ''}".replace("-", "−")
        part, _, lug = place.partition(".")
        lugged = (lug if len(switches) == 1 else place) if part in switches else part
        at[said].append((0 if part in switches else 1 if lug else 2, lugged))
        size[said] = max(abs(volts.volts), size.get(said, 0.0))
    ordered = sorted(at, key=lambda said: -size[said])
    names = {said: list(dict.fromkeys(name for _, name in sorted(at[said]))) for said in ordered}
    left = [size[said] for said in ordered[_MOST_VOLTS:]]
    for most in (8, 6, 5, 4, 3, 2):
        told = [f"{said} on {_few(names[said], most)}" for said in ordered[:_MOST_VOLTS]]
        told += [f"{float(f'{min(left):.3g}'):g} V and more elsewhere"] if left else []
        whole = " · ".join(told)
        if len(whole) <= _LINE:
            break
    return whole


def _few(names: Sequence[str], most: int) -> str:
    if len(names) <= most + 1:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def _not_to_omit(spec: Spec, wiring: Wiring) -> Iterator[CardLine]:
    """What a pole carries that has nothing to do with the meter."""
    for switch in spec.all_of(Switch, wiring).values():
        told = not_metering(spec, wiring, switch)
        if len(told) > _MOST_POLES:
            poles = [said.split()[1] for said in told]
            told = [f"Poles {listing(poles)} have nothing to do with the meter: do not omit them"]
        for said in told:
            yield CardLine(f"▲ {switch.name}: {said}", bold=True)


def card_pages(
    spec: Spec,
    wiring: Wiring,
    result: Result | None,
    values: WiringValues | None,
    paper: Paper,
    symbols: Standard = "iec",
) -> tuple[Scene, ...]:
    """The card of one wiring: a page.

    Each switch has a page of its own, lug by lug, where there are many wires, or where the
    hook-up could not be drawn with every wire clear of what it does not join.
    """
    card = card_of(spec, wiring, result, values)
    picture = None
    if len(wiring.wires) <= _MOST_WIRES:
        picture = sound_hook_up(spec, wiring, PAPER[paper][0] - 2 * MARGIN - 2.0, _HOOK_UP)
    many = picture is None
    circuit = _circuit(spec, wiring, values, symbols)
    further = list(_further(spec, wiring, circuit, paper)) if many else []
    if many:
        where = CardBlock(
            f"Hook-up, {wiring.name}: on the pages that follow",
            lines=tuple(_not_to_omit(spec, wiring)),
        )
        card = replace(card, hook_up=where)
    card = replace(card, origin=f"{card.origin} · page 1 of {1 + len(further)}")
    first = card_scene(card, picture, None if many else circuit, paper)
    broken = _BROKEN if card.broken else None
    numbered = footed([first, *further], spec, [None, *[broken] * len(further)])
    return (first, *numbered[1:])


def _further(spec: Spec, wiring: Wiring, circuit: Drawing | None, paper: Paper) -> Iterator[Scene]:
    """Of many wires: every switch and the circuit on pages of their own."""
    for switch in spec.all_of(Switch, wiring):
        yield from lug_view(spec, wiring, switch, paper=paper)
    if circuit is not None:
        width = PAPER[paper][0] - 2 * MARGIN
        yield on_a_sheet(circuit(width), paper, f"Circuit of {wiring.name}")


def _circuit(
    spec: Spec, wiring: Wiring, values: WiringValues | None, symbols: Standard
) -> Drawing | None:
    """The circuit that carries the readings; where nothing is read the hook-up says it all."""
    if values is None or not wiring.readings:
        return None
    chosen = chosen_values(spec, wiring, values)
    return lambda width: schematic(spec, wiring, chosen, width, symbols)


# What to buy --------------------------------------------------------------------------------


def _buy(
    moves: Moves, wiring: Wiring, values: WiringValues | None
) -> Iterator[tuple[CardCell, ...]]:
    """New parts, then new wire by colour with its length, then what the joins take."""
    fitted = {one.part: one.chosen for one in values.fits if one.chosen} if values else {}
    for step in moves.steps:
        part = wiring.parts.get(step.part or "") if step.kind == "mount" else None
        if part is not None:
            chosen = fitted.get(part.name)
            said = part.described_as(None if chosen is None else chosen.replace("ohm", "Ω"))
            said = _briefly(part) if isinstance(part, Meter) else said
            gone = [name for name in step.instead_of if name != part.name]
            was = f" (was {', '.join(gone)})" if gone else ""
            yield CardCell(part.name, bold=True), CardCell(said.removeprefix(f"{part.kind} ") + was)
    wires = [s for s in moves.steps if s.kind == "wire" and not s.text.startswith("Own lead")]
    said_of_wire = list(_wire(wires))
    joins = sum(step.kind == "join" for step in moves.steps)
    sleeved = sum("sleev" in f"{step.note} {step.why}".lower() for step in wires)
    said_of_wire += [f"{joins} leads of any that serves"] if joins else []
    said_of_wire += [f"sleeving for {sleeved}"] if sleeved else []
    if said_of_wire:
        yield CardCell("wire", bold=True), CardCell("; ".join(said_of_wire))


def _wire(steps: Sequence[WorkStep]) -> Iterator[str]:
    """Colours with what they come to in all, and what insulation they must have."""
    reels: dict[tuple[str, str], list[int]] = defaultdict(list)
    for step in steps:
        notes = (step.note or "").split("; ")
        asked = next((n for n in notes if n.startswith("insulation")), "")
        rated = re.search(r"[0-9.]+ k?V", asked)
        kind = step.colour or "any", rated[0] if rated else ""
        reels[kind].append(round(1000 * (step.length_metres or 0.0)))
    for (colour, volts), lengths in sorted(reels.items()):
        total, unsaid = sum(lengths), lengths.count(0)
        said = f"{total} mm" if total else ""
        more = f"{unsaid} piece{'s' if unsaid > 1 else ''}" if unsaid else ""
        many = " and ".join(filter(None, (said, more)))
        yield f"{colour} {many} {volts}".rstrip()


# What it reads ------------------------------------------------------------------------------


def _reads(wiring: Wiring, values: WiringValues | None) -> CardBlock:
    if values is None or not values.readings:
        return CardBlock("Reads")
    rows = [tuple(map(CardCell, _read(wiring.readings[one.name], one))) for one in values.readings]
    head = ("", "full scale", "dial", "within")
    used = [n for n in range(len(head)) if any(row[n].text for row in rows)]
    return CardBlock(
        "Reads",
        head=tuple(head[n] for n in used),
        rows=tuple(tuple(CardCell(row[n].text, bold=n == 0) for n in used) for row in rows),
    )


def _read(reading: Reading, one: Readout) -> tuple[str, ...]:
    unit = _UNITS[reading.quantity]
    full_scale = with_unit(reading.full_scale, unit)
    return position_of(reading), full_scale, _dial(reading, unit), _error(one)


def _dial(reading: Reading, unit: str) -> str:
    """The arc, and by what its figures are multiplied where they are not the reading itself."""
    ends = dial_ends(reading.scale)
    if ends is None:
        return reading.scale or ""
    end = max(ends, key=abs)
    number, prefixed = with_unit(reading.full_scale, unit).split(" ")
    if float(number) == end:
        return f"{reading.scale} {prefixed}"
    return f"{reading.scale} ×{with_unit(reading.full_scale / end, unit, 3)}"


def position_of(reading: Reading) -> str:
    """The position that it is read in; its name where several controls give one."""
    if len(reading.when) != 1:
        return reading.name
    return " or ".join(next(iter(reading.when.values())))


def _error(one: Readout) -> str:
    """After setting, in percent of full scale; what is not known is called so."""
    low, high = one.trimmed_percent or (one.worst_low_percent, one.worst_high_percent)
    if one.error_percent is None or low is None or high is None:
        return "not known"
    most = max(abs(low), abs(high))
    return f"±{ceil(10 * most - _SLACK) / 10:g} %" if isfinite(most) else "no bound"


def _meters(spec: Spec, wiring: Wiring) -> CardBlock:
    try:
        found = option_rows(spec, wiring)
    except LimitReached:
        found = ()
    if not found:
        return CardBlock("")
    table = options_table(found)
    rows = tuple(
        tuple(CardCell(cell.text.replace("–", ""), cell.bold) for cell in row) for row in table.rows
    )
    return CardBlock("", head=("other meters", *table.head[1:]), rows=rows)


# Before power -------------------------------------------------------------------------------


def _before(
    spec: Spec, wiring: Wiring, values: WiringValues | None, result: Result | None
) -> Iterator[CardLine]:
    touches = list(_touches(spec, wiring))
    for said in touches:
        yield CardLine(said, tick=True)
    for pot in values.pots if values else ():
        yield CardLine(_set(wiring, values, pot), tick=True)
    if wiring.role in ("plan", None):
        for step in [s for s in power_steps(spec, wiring) if s.stage == "power"][:_MOST_POWER]:
            yield CardLine(step.text, tick=True)
    if any("*" in said for said in touches):
        yield CardLine("* lift one lead of the meter first: an ohmmeter overdrives it.")
    meant = _meant(wiring, result)
    if meant:
        yield CardLine(meant)


def _touches(spec: Spec, wiring: Wiring) -> Iterator[str]:
    """The places of the rules with what an ohmmeter must read there in each position."""
    places = list(dict.fromkeys(rule.places for rule in spec.rules))[:_MOST_TOUCHES]
    if not places:
        return
    try:
        states = states_to_buzz(spec, wiring)
        found = list(continuity(spec, wiring, places, states))
    except LimitReached:
        return
    by_pair: dict[tuple[str, str], list[Probe]] = defaultdict(list)
    for probe in found:
        by_pair[probe.between].append(probe)
    for pair in places:
        probes = by_pair.get(pair) or by_pair.get((pair[1], pair[0])) or []
        if probes:
            yield f"{pair[0]} to {pair[1]}: {_found(probes)}"


def _found(probes: Sequence[Probe]) -> str:
    """What is read, position by position; once where it is the same everywhere."""
    said = [marked(expected(probe), probe) for probe in probes]
    if len(set(said)) == 1:
        return said[0]
    at: dict[str, list[str]] = defaultdict(list)
    for text, probe in zip(said, probes, strict=True):
        at[text].append(" ".join(probe.state.values()))
    return "; ".join(
        f"{text} in {listing(list(dict.fromkeys(names)))}" for text, names in at.items()
    )


def _set(wiring: Wiring, values: WiringValues | None, pot: PotAnswer) -> str:
    """Where a pot stands, and with what it is set."""
    if pot.setting_percent is None:
        return f"{pot.part}: {pot.why or 'no setting does it'}"
    reading = wiring.readings[pot.reading]
    unit = _UNITS[reading.quantity]
    tests = [test for test in values.bench if test.reading == pot.reading] if values else []
    full = next((row for test in tests for row in test.rows if row.percent == 100.0), None)
    fed = ""
    if full is not None:
        series = f" through {in_ohms(tests[0].series_ohms)}" if tests[0].series_ohms else ""
        fed = f" (about {with_unit(full.knob_volts, 'V')}{series})"
    return (
        f"Set {pot.part} in {position_of(reading)}, from {pot.setting_percent:.0f} % of its "
        f"travel, until {with_unit(reading.full_scale, unit)}{fed} stands at the end of the dial"
    )


def _meant(wiring: Wiring, result: Result | None) -> str:
    """What was changed on purpose, each part once."""
    if result is None or result.verdict == "broken":
        return ""
    groups: dict[tuple[str, tuple[str, ...]], list[tuple[str, ...]]] = defaultdict(list)
    for change in wiring.changes:
        groups[change.kind, change.parts or change.anchors].append((*change.parts, *change.anchors))
    said = []
    for change in wiring.changes:
        about = groups.pop((change.kind, change.parts or change.anchors), None)
        if about is None:
            continue
        shared = [n for n in about[0] if all(n in other for other in about)]
        if change.kind in ("insert", "link") and len(about) > 1:
            at = [n for n in shared if n not in change.parts]
            where = f" at {at[0]}" if at else ""
            said.append(f"{listing(change.parts)} now in series{where}")
        else:
            said.append(change_said(change.kind, about[0]))
    if not said:
        return "Changed on purpose: nothing."
    return f"Changed on purpose: {'; '.join(said)}."


def _foot(wiring: Wiring) -> str:
    coloured = any(wire.colour for wire in wiring.wires)
    said = "Colours: IEC 60757. " if coloured else ""
    return f"{said}A dot joins, a crossing does not. {CODES}"


def _origin(spec: Spec) -> str:
    return f"rewire {__version__} · spec {spec.digest[:12]}"
