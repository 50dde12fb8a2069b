"""A landing lug by lug, to read with the iron in hand, or why there is none; for machines too.

For machines each of ``results`` is one switch, best first; docs/json.md says what its keys hold.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from rewire.compare.findings import INFORMATION, Finding, when
from rewire.fit.answer import FitAnswer, WaysOut
from rewire.fit.encoding import Landing
from rewire.fit.offers import LandingPlan
from rewire.fit.writing import needed_timing, poles_said
from rewire.records.switches import Switch, form_named
from rewire.report.check import counted, finding_as_json
from rewire.report.machine import JSON, as_json
from rewire.report.mounting import mounting_as_json, mounting_words
from rewire.report.section import Block, ReportSection, Table, Words, note, row, warning
from rewire.words.wording import listing

_MOST_CASES = 6
_MOST_OTHERS = 4
"""Broken rules, and what happens for a moment, that are told one by one."""


def sections(answers: Sequence[FitAnswer]) -> Iterator[ReportSection]:
    """The table, where there are several; then the first in full."""
    if len(answers) > 1:
        yield _table(answers)
    first = answers[0]
    if first.landing is not None and first.plan is not None:
        yield from _landed(first, first.landing, first.plan)
    elif first.proven:
        yield from _no_landing(first)
    else:
        said = (
            f"{first.offer.name}: out of time before a wiring was found, or proved "
            "impossible; the rest was not tried: allow more with --time-limit"
        )
        yield ReportSection("fit", "", (Words(said, "LIMIT:", tone="bad"),))


def _table(answers: Sequence[FitAnswer]) -> ReportSection:
    """All switches in one table, best first."""
    fitting = sum(answer.feasible for answer in answers)
    name = answers[0].task.bare.switch.name
    said = f"{fitting} of {len(answers)} switches can take the place of {name}"
    numbers = ("on hand", "connections", "jumpers", "spare")
    head = ("switch", "form", *numbers, "to know")
    table = Table(head, tuple(row(*_row(answer)) for answer in answers), figures=frozenset(numbers))
    return ReportSection("fit", "", (Words(said, tone="good" if fitting else "bad"), table))


def _row(answer: FitAnswer) -> tuple[str, ...]:
    offer, landing = answer.offer, answer.landing
    form = offer.switch.form
    head = ("" if offer.name == form else offer.name) or form, form, str(offer.quantity)
    if landing is None:
        reason = _why_not(answer) if answer.proven else "out of time"
        return (*head, "", "", "", f"no: {reason}")
    spare = len(landing.spare(offer.switch.terminals))
    numbers = (str(landing.connections), str(landing.jumpers), str(spare))
    return (*head, *numbers, "; ".join(_to_know(answer)) or "fits")


def _to_know(answer: FitAnswer) -> Iterator[str]:
    if not answer.proven:
        yield "out of time: fewer jumpers may do"
    if not answer.settled:
        yield f"if {needed_timing(answer)}"
    if answer.task.hardwired:
        yield f"with {counted(len(answer.task.hardwired), 'plain wire')}"
    over = [strain.message for strain in answer.strains if strain.bad]
    yield from over
    if not over and any(s.kind in ("contact-volts", "volts-unknown") for s in answer.strains):
        yield "rating unknown"
    if answer.mounting and answer.mounting.misfits:
        kinds = dict.fromkeys(one.kind for one in answer.mounting.misfits)
        yield f"in the panel: {', '.join(kinds)}"


def _landed(answer: FitAnswer, landing: Landing, plan: LandingPlan) -> Iterator[ReportSection]:
    blocks = (*_verdict(answer, landing), *_lug_by_lug(landing, plan))
    yield ReportSection("fit", "", blocks)
    for number, (other, its_plan) in enumerate(answer.others, 2):
        price = f"{counted(other.connections, 'connection')}, {counted(other.jumpers, 'jumper')}"
        title = f"Wiring {number} ({price})"
        yield ReportSection("lugs", title, tuple(_lug_by_lug(other, its_plan)))


def _verdict(answer: FitAnswer, landing: Landing) -> Iterator[Words]:
    name, old = answer.offer.name, answer.task.bare.switch.name
    said = f"{name} takes the place of {old}: {_price(answer, landing)}"
    if answer.settled:
        yield Words(said, "FITS:", tone="good")
    else:
        yield Words(f"{needed_timing(answer)}. {said}", "FITS IF", tone="meant")
        yield _mind("buzz it with the knob held half way between two positions before you solder")
    yield _knob(answer, landing)
    for ends in answer.task.hardwired:
        yield _mind(f"a plain wire from {ends[0]} to {ends[1]}, past the switch")
    for strain in answer.strains:
        yield Words(strain.message, "!", tone="bad" if strain.bad else "meant", indent=2)
    if answer.offer.switch.mount is not None:
        yield from mounting_words(answer.mounting)
    for finding in answer.result.findings if answer.result else ():
        if finding.kind not in INFORMATION:  # while switching: it was waived
            yield _mind(f"{finding.message} ({when(finding, _MOST_CASES)})")


def _mind(text: str) -> Words:
    return Words(text, "!", tone="meant", indent=2)


def _price(answer: FitAnswer, landing: Landing) -> str:
    """What it takes, whether less would do, and what the comparison says of it."""
    said = f"{counted(landing.connections, 'wire')}, {counted(landing.jumpers, 'jumper')}"
    least = f"out of time: it takes {answer.found.least_jumpers} jumpers or more"
    verdict: str = answer.result.verdict if answer.result else "kept"
    if verdict == "broken":  # what the original breaks itself is all that a landing may break
        verdict = "as the original, which itself breaks a rule of the spec"
    return f"{said}; {'no wiring needs fewer' if answer.proven else least}; checked: {verdict}"


def _knob(answer: FitAnswer, landing: Landing) -> Words:
    """Which throw, or detent, serves each position."""
    plain = answer.offer.plain is not None
    throws = [
        str(throw) if plain else answer.offer.detents[landing.detents[index]]
        for index, (_, throw) in enumerate(answer.positions)
    ]
    pairs = zip(answer.positions, throws, strict=True)
    said = ", ".join(f"{position} on {throw}" for (position, _), throw in pairs)
    control = answer.task.bare.switch.control
    if list(landing.detents) == sorted(landing.detents):
        return Words(f"{said}", f"{control}:", indent=2)
    return Words(
        f"{said}; the legend changes: letter the knob anew", f"{control}:", tone="meant", indent=2
    )


def _lug_by_lug(landing: Landing, plan: LandingPlan) -> Iterator[Block]:
    lugs = [wire for wire in plan.wires if not wire.jumper]
    head = (f"lug of {plan.switch.name}", "goes to", "wire")
    rows = (row(wire.lug, wire.to, (wire.old.colour if wire.old else None) or "") for wire in lugs)
    yield Table(head, tuple(rows))
    jumpers = [f"{one}–{other}" for one, other in plan.jumpers]
    if jumpers:
        yield Words(", ".join(jumpers), "jumpers:", indent=2)
    spare = landing.spare(plan.switch.terminals)
    if spare:
        yield Words(", ".join(spare), "spare:", tone="faint", indent=2)
    for splice in plan.splices:
        yield _mind(f"{listing(splice)} met on the old switch: splice them")


def _no_landing(answer: FitAnswer) -> Iterator[ReportSection]:
    old = answer.task.bare.switch.name
    said = f"{answer.offer.name} cannot take the place of {old}: {_why_not(answer)}"
    yield ReportSection("fit", "", (Words(said, "NO FIT:", tone="bad"), *_lost(answer)))
    would = () if answer.ways_out is None else _would_do(answer, answer.ways_out)
    lines = tuple(map(note, would))
    yield ReportSection("ways out", "What would do", lines)


def _why_not(answer: FitAnswer) -> str:
    """The reason in a few words."""
    task = answer.task
    control, need = task.bare.switch.control, len(task.demands)
    form, have = answer.offer.plain, len(answer.offer.detents)
    if have < need:
        detents = counted(have, "throw" if form else "detent")
        return f"{control} has {need} positions, the switch {detents}"
    if answer.found.at_rest:
        return "right at rest, wrong while the knob turns"
    what = counted(form[0], f"{_timing(answer)}pole") if form else f"its {_timing(answer)}contacts"
    return f"no way to wire {what} keeps every connection"


def _timing(answer: FitAnswer) -> str:
    """``shorting`` or ``non-shorting``, where all sections are stated to be."""
    sections_of = answer.offer.switch.sections
    timings = {section.timing for section in sections_of}
    if len(timings) != 1 or not all(section.timing_stated for section in sections_of):
        return ""
    (timing,) = timings
    return "" if timing == "unknown" else f"{timing} "


def _lost(answer: FitAnswer) -> Iterator[Words]:
    """What the best attempt loses, pole by pole of the old switch, and the rules it breaks."""
    if answer.loss is None:
        return
    best = "The closest" if answer.loss.proven else "The closest found in the time given"
    count = counted(answer.loss.connections, "connection")
    lost = f"{best} loses {count}, counted in each position"
    yield Words(f"{lost if answer.loss.connections else 'Wired right at rest, it would do this'}:")
    dropped: dict[str, list[Finding]] = {}
    for finding in answer.lost:
        if finding.kind == "dropped":
            dropped.setdefault(_pole_of(answer.task.bare.switch, finding), []).append(finding)
    for pole, findings in dropped.items():
        yield Words("; ".join(_pairs_lost(findings)), f"{pole}:", tone="bad", indent=2)
    others = [f for f in answer.lost if f.kind == "rule" or not (dropped or f.kind == "dropped")]
    for finding in sorted(others, key=lambda finding: finding.kind != "rule")[:_MOST_OTHERS]:
        why = f": {finding.why}" if finding.why else ""
        where = when(finding, _MOST_CASES)
        said = f"{finding.message}{f' ({where})' if where else ''}{why}"
        yield warning(said)
    if len(others) > _MOST_OTHERS:
        yield _mind(f"and {len(others) - _MOST_OTHERS} more while the knob turns")


def _pole_of(switch: Switch, finding: Finding) -> str:
    """The pole, or poles, of the old switch that a lost connection went through."""
    lugs = {place.removeprefix(f"{switch.name}.") for place in finding.was}
    poles = [section.lugs[0] for section in switch.sections if lugs.intersection(section.lugs)]
    return f"pole {listing(poles)}" if poles else "disconnected"


def _pairs_lost(findings: Sequence[Finding]) -> Iterator[str]:
    """``A to B, C and 4 more`` for each place that loses others."""
    partners: dict[str, list[str]] = {}
    for finding in findings:
        one, other = sorted((group[0] for group in finding.groups[:2]), key=_often(findings))
        partners.setdefault(one, []).append(other)
    for one, others in partners.items():
        more = f" and {len(others) - _MOST_CASES} more" if len(others) > _MOST_CASES else ""
        yield f"{one} to {', '.join(others[:_MOST_CASES])}{more}"


def _often(findings: Sequence[Finding]) -> Callable[[str], int]:
    """The places that lose most come first."""
    count = Counter(group[0] for finding in findings for group in finding.groups[:2])
    return lambda place: -count[place]


def _would_do(answer: FitAnswer, out: WaysOut) -> Iterator[str]:
    form = answer.offer.plain
    if out.throws is not None:
        yield f"a switch with {out.throws} throws, or with a stop that can be set to {out.throws}"
    if out.timing:
        yield f"the same switch with {_timed(out.timing)}"
    if out.poles is not None and form:
        second = f"a second switch of {counted(out.poles - form[0], 'pole')} on the same shaft"
        yield f"{counted(out.poles, 'pole')}: {form_named(out.poles, form[1])}"
        yield f"{second}, turned together with this one"
    if out.relay is not None:
        count, pulled = out.relay
        yield (
            f"a relay with {counted(count, 'changeover contact')}, pulled in at {listing(pulled)}: "
            "one pole of the switch works its coil, the others and the relay do the rest; "
            "a dead coil leaves it as in the other positions"
        )
    if out.waive:
        words = {"interrupted": "interrupt"}
        flags = " ".join(f"--waive {words.get(kind, kind)}" for kind in out.waive)
        yield f"if it may happen while switching: {flags}; each case is then declared"
    for shared in out.combine:
        one, other = shared.places
        yield (
            f"only if nothing needs them apart: {one} and {other} connected for good. The original "
            f"opens them in {listing(shared.opened_at)}; that is lost"
        )


def _timed(timing: Sequence[tuple[str, str]]) -> str:
    shorting = [pole for pole, how in timing if how == "shorting"]
    rest = [pole for pole, how in timing if how != "shorting"]
    if not shorting:
        return f"{poles_said(rest)} non-shorting (break before make)"
    said = f"{poles_said(shorting)} shorting (make before break)"
    return f"{said}, the rest not" if rest else said


def result_as_json(answer: FitAnswer) -> JSON:
    """One switch, as ``rewire fit`` gives it."""
    return {
        "feasible": answer.feasible,
        "switch": answer.offer.switch.form,
        "offer": answer.offer.name,
        **_landed_as_json(answer),
        "optimal": answer.proven,
        "dropped": [finding_as_json(finding) for finding in answer.lost],
        "connections_lost": None if answer.loss is None else answer.loss.connections,
        "fewest_proven": None if answer.loss is None else answer.loss.proven,
        "ways_out": as_json(answer.ways_out, {}),
    }


def _landed_as_json(answer: FitAnswer) -> JSON:
    landing, plan, result = answer.landing, answer.plan, answer.result
    if landing is None or plan is None or result is None:
        return {}
    different = (f for f in result.findings if f.kind not in INFORMATION)
    return {
        **_price_as_json(landing, plan),
        "part": plan.switch.name,
        "positions": dict(answer.positions),
        "spare": list(landing.spare(answer.offer.switch.terminals)),
        "alternatives": [_price_as_json(*other) for other in answer.others],
        "warnings": [{"kind": s.kind, "message": s.message, "bad": s.bad} for s in answer.strains],
        "least_jumpers": answer.found.least_jumpers,
        "timing": dict(answer.asked),
        "wires": [list(pair) for pair in answer.task.hardwired],
        "mounting": mounting_as_json(answer.mounting),
        "verdict": result.verdict,
        "findings": [finding_as_json(finding) for finding in different],
    }


def _price_as_json(landing: Landing, plan: LandingPlan) -> JSON:
    jumpers = [list(pair) for pair in plan.jumpers]
    return {"lugs": plan.landed, "jumpers": jumpers, "connections": landing.connections}
