"""The blocks of a card: what to buy, what it reads, other meters, what to do before power."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from math import ceil, isfinite

from rewire.bench.moves import default_source, moves_of
from rewire.bench.probes import Probe, continuity, expected, marked, states_to_buzz
from rewire.bench.safety import power_steps
from rewire.bench.work_list import Moves
from rewire.circuit import LimitReached
from rewire.compare.findings import Result
from rewire.draw.card import CardBlock, CardLine
from rewire.records.part import Part
from rewire.records.parts import Meter
from rewire.records.spec import Reading, Spec, Wiring, change_said
from rewire.records.switches import Switch
from rewire.report.buying import purchases, reels
from rewire.report.options import options_table
from rewire.values.answers import PotAnswer, Readout, WiringValues
from rewire.values.dial_arcs import UNITS
from rewire.values.options import option_rows
from rewire.words.arcs import shown_arc
from rewire.words.quantity import in_ohms, with_unit
from rewire.words.wording import listing

_MOST_TOUCHES = 4
_MOST_POWER = 2
_SLACK = 1e-6
_BUZZ = "Buzz every lug in every position: all as the continuity table says"
"""Asked for where the spec has no rule whose two terminals could be measured."""
_ALIKE = 1.02
"""Ohms that differ by less are one reading at the bench (common practice, no source)."""
_TIMINGS = {"shorting": "make before break", "non-shorting": "break before make"}


def card_blocks(
    spec: Spec, wiring: Wiring, result: Result | None, values: WiringValues | None
) -> Mapping[str, CardBlock]:
    """``buy``, ``reads``, ``meters``, ``before``, as far as there is something to say."""
    moves = _moves(spec, wiring)
    bought = tuple(_buy(spec, wiring, moves, values)) if moves else ()
    blocks = {
        "buy": CardBlock("Buy", rows=bought, loose=1),
        "reads": _reads(wiring, values),
        "meters": _meters(spec, wiring),
        "before": CardBlock(
            "No power until all of this is right",
            lines=tuple(_before(spec, wiring, values, result)),
        ),
    }
    return {name: block for name, block in blocks.items() if block.rows or block.lines}


def _moves(spec: Spec, wiring: Wiring) -> Moves | None:
    source = default_source(spec)
    if wiring.role != "plan" or wiring.name == source:
        return None
    try:
        return moves_of(spec, source, wiring.name)
    except LimitReached:
        return None


def _form(switch: Switch) -> str:
    style = switch.style or "switch"
    return f"{switch.form} {style}" if switch.value else f"{style} of {len(switch.terminals)} lugs"


def timing_said(switch: Switch) -> Iterator[str]:
    """The timing of the contacts; of the poles by name where they differ."""
    poles: dict[str, list[str]] = defaultdict(list)
    for section in switch.sections:
        said = _TIMINGS.get(section.timing, "timing not known")
        poles[said].append(section.pole or "–".join(section.lugs))
    for said, names in poles.items():
        yield said if len(poles) == 1 else f"{listing(names)} {said}"


def briefly(part: Part) -> str:
    """What a part is, without its scales and ratings."""
    if isinstance(part, Switch):
        return _form(part)
    if isinstance(part, Meter) and part.resistance is not None:
        return f"{part.value}, {in_ohms(part.resistance)}"
    return part.value


# What to buy --------------------------------------------------------------------------------


def _buy(
    spec: Spec, wiring: Wiring, moves: Moves, values: WiringValues | None
) -> Iterator[tuple[str, str]]:
    """New parts, then new wire by colour with its length, then what the joins take."""
    for one in purchases(spec, wiring, moves, values):
        was = f" (was {', '.join(one.instead_of)})" if one.instead_of else ""
        least = f", at least {one.least}" if one.least else ""
        yield one.names, f"{_bought(one.parts[0], one.chosen)}{least}{was}"
    said_of_wire = list(_wire(spec, wiring, moves))
    joins = sum(step.kind == "join" for step in moves.steps)
    wires = [step for step in moves.steps if step.kind == "wire"]
    sleeved = sum("sleev" in f"{step.note} {step.why}".lower() for step in wires)
    said_of_wire += [f"{joins} leads of any wire"] if joins else []
    said_of_wire += [f"sleeving for {sleeved}"] if sleeved else []
    if said_of_wire:
        yield "wire", "; ".join(said_of_wire)


def _bought(part: Part, chosen: str | None) -> str:
    """What to ask for over the counter."""
    if isinstance(part, Meter):
        return briefly(part)
    if isinstance(part, Switch):
        rating = (
            with_unit(v, u) for v, u in ((part.rating.volts, "V"), (part.rating.amps, "A")) if v
        )
        return ", ".join((_form(part), *timing_said(part), *rating))
    return part.described_as(chosen).removeprefix(f"{part.kind} ")


def _wire(spec: Spec, wiring: Wiring, moves: Moves) -> Iterator[str]:
    """Colours with what they come to in all, ends included, and what insulation they must have."""
    for reel in reels(spec, wiring, moves):
        pieces = f"{reel.unmeasured} piece{'s' if reel.unmeasured > 1 else ''}"
        length = f"{reel.millimetres:g} mm" if reel.millimetres else ""
        many = " and ".join(filter(None, (length, pieces if reel.unmeasured else "")))
        volts = f"{with_unit(float(reel.volts), 'V')}" if reel.volts[:1].isdigit() else reel.volts
        said = (reel.kind, many) if reel.colour else (many, reel.kind)
        yield " ".join(filter(None, (*said, volts)))


# What it reads ------------------------------------------------------------------------------


def _reads(wiring: Wiring, values: WiringValues | None) -> CardBlock:
    readings = values.readings if values else ()
    rows = [_read(wiring.readings[one.name], one) for one in readings]
    head = ("", "full scale", "dial", "within")
    used = [n for n in range(len(head)) if any(row[n] for row in rows)]
    kept = tuple(tuple(row[n] for n in used) for row in rows)
    loose = used.index(2) if 2 in used else None
    return CardBlock("Reads", tuple(head[n] for n in used), kept, loose=loose)


def _read(reading: Reading, one: Readout) -> tuple[str, ...]:
    full_scale = with_unit(reading.full_scale, UNITS[reading.quantity])
    dial = f"{shown_arc(one.dial.scale)} {one.dial.times}".rstrip() if one.dial else ""
    return position_of(reading), full_scale, dial.replace("-", "−"), _error(one)


def position_of(reading: Reading) -> str:
    """The position that it is read in; its name where several controls give one."""
    if len(reading.when) != 1:
        return reading.name
    return " or ".join(next(iter(reading.when.values())))


def _error(one: Readout) -> str:
    """After setting, in percent of full scale; unknown if not known."""
    low, high = one.trimmed_percent or (one.worst_low_percent, one.worst_high_percent)
    if one.error_percent is None or low is None or high is None:
        return "not known"
    most = max(abs(low), abs(high))
    if not isfinite(most):
        return "no bound"
    return f"±{ceil(10 * most - _SLACK) / 10:g} %{': too much' if one.off else ''}"


def _meters(spec: Spec, wiring: Wiring) -> CardBlock:
    try:
        found = option_rows(spec, wiring)
    except LimitReached:
        found = ()
    table = options_table(found)
    rows = tuple(tuple(cell.text.replace("–", "") for cell in row) for row in table.rows)
    planned = next((n for n, row in enumerate(found) if row.whose == "plan"), None)
    return CardBlock("", ("other meters", *table.head[1:]), rows, bold=planned)


# Before power -------------------------------------------------------------------------------


def _before(
    spec: Spec, wiring: Wiring, values: WiringValues | None, result: Result | None
) -> Iterator[CardLine]:
    touches = list(_paired(_touches(spec, wiring)))
    for said in touches:
        yield CardLine(said, tick=True)
    if any("*" in said for said in touches):
        yield CardLine("* lift one lead of the meter first: an ohmmeter overdrives it.")
    for pot in values.pots if values else ():
        yield CardLine(_set(wiring, values, pot), tick=True)
    broken = result is not None and result.verdict == "broken"
    if wiring.role in ("plan", None) and not broken:
        if not touches:
            yield CardLine(_BUZZ, tick=True)
        for step in [s for s in power_steps(spec, wiring) if s.stage == "power"][:_MOST_POWER]:
            yield CardLine(step.text, tick=True)
    if meant := _meant(wiring, result):
        yield CardLine(meant)


def _paired(said: Iterator[str]) -> Iterator[str]:
    """In order, but each followed by the shortest of the rest, so that the two share a line."""
    left = list(said)
    while left:
        yield left.pop(0)
        if left:
            yield left.pop(left.index(min(left, key=len)))


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
            yield f"{pair[0]} – {pair[1]}: {_found(probes)}"


def _found(probes: Sequence[Probe]) -> str:
    """What is read, position by position; once if all positions read alike."""
    said = [marked(expected(probe), probe) for probe in probes]
    ohms = [probe.ohms for probe in probes if probe.ohms]
    if len(set(said)) == 1 or (len(ohms) == len(said) and max(ohms) <= _ALIKE * min(ohms)):
        return said[0]
    deciding = _deciding(said, probes)
    at: dict[str, list[str]] = defaultdict(list)
    for text, probe in zip(said, probes, strict=True):
        at[text].append(" ".join(probe.state[control] for control in deciding))
    return "; ".join(f"{text} in {', '.join(dict.fromkeys(names))}" for text, names in at.items())


def _deciding(said: Sequence[str], probes: Sequence[Probe]) -> list[str]:
    """The controls whose positions decide what is read."""
    kept = list(probes[0].state)
    for control in list(kept):
        fewer = [other for other in kept if other != control]
        told = zip(said, probes, strict=True)
        seen = {(tuple(probe.state[one] for one in fewer), text) for text, probe in told}
        if len({positions for positions, _ in seen}) == len(seen):
            kept = fewer
    return kept


def _set(wiring: Wiring, values: WiringValues | None, pot: PotAnswer) -> str:
    """The setting of a pot, and what it is set with."""
    if pot.setting_percent is None:
        return f"{pot.part}: {pot.why or 'no setting does it'}"
    reading = wiring.readings[pot.reading]
    unit = UNITS[reading.quantity]
    tests = [test for test in values.bench if test.reading == pot.reading] if values else []
    full = next((row for test in tests for row in test.rows if row.percent == 100.0), None)
    fed = ""
    if full is not None:
        series = f" through {in_ohms(tests[0].series_ohms)}" if tests[0].series_ohms else ""
        fed = f" ({with_unit(full.knob_volts, 'V')}{series})"
    return (
        f"Set {pot.part} in {position_of(reading)}, from {pot.setting_percent:.0f} %: "
        f"{with_unit(reading.full_scale, unit)}{fed} to the end of the dial"
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
        return ""
    return f"Changed on purpose: {'; '.join(said)}."
