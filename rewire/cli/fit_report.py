"""The answers of ``rewire fit`` in plain text: lug by lug, to read with the iron in hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.circuit.graph import Joiner
from rewire.cli.check_report import counted
from rewire.cli.table import table
from rewire.cli.terminal import Line
from rewire.compare.findings import INFORMATION, Finding
from rewire.compare.when import when
from rewire.compare.words import listing
from rewire.fit.answer import FitAnswer
from rewire.fit.offers import Landing
from rewire.fit.plan import LandingPlan
from rewire.fit.task import SwitchTask
from rewire.fit.ways_out import WaysOut

Said = Line | str
_MOST_CASES = 6
_HEAD = ("lug", "lands", "wire", "jumper to")


def report(answers: Sequence[FitAnswer]) -> Iterator[Said]:
    """The table, where there are several; then the first in full."""
    if len(answers) > 1:
        yield from _table(answers)
        yield Line("")
    first = answers[0]
    if first.landing is not None and first.plan is not None:
        yield from _landed(first.task, first, first.landing, first.plan)
    else:
        yield from _refused(first.task, first)


def _landed(
    task: SwitchTask, answer: FitAnswer, landing: Landing, plan: LandingPlan
) -> Iterator[Said]:
    verdict: str = answer.result.verdict if answer.result else "kept"
    if verdict == "broken":  # what the original breaks itself is all that a landing may break
        verdict = "as the original, which itself breaks a rule of the spec"
    said = f"{answer.offer.name} takes the place of {task.bare.switch.name}"
    if answer.settled:
        yield Line(said, 0, "FITS:", "good")
    else:
        yield Line(f"{needed_timing(answer)}. {said}", 0, "FITS IF", "meant")
        how = "hold the knob half way between two positions and buzz its lugs"
        yield Line(f"its timing is not known: {how} before you solder", 2, "!", "meant")
    yield Line(f"{_price(answer, landing)}; checked: {verdict}", 2)
    for ends in task.hardwired:
        yield Line(f"a plain wire from {ends[0]} to {ends[1]}, past the switch", 2, "!", "meant")
    for strain in answer.strains:
        yield Line(strain.message, 2, "!", "bad" if strain.bad else "meant")
    yield from _waived(answer)
    yield Line("")
    yield Line("The knob:")
    yield from _legend(task, answer, landing)
    yield Line("")
    yield Line(f"Lug by lug ({plan.switch.name}):")
    yield from table(_HEAD, list(_rows(plan)), words=(0, 1, 2, 3))
    yield from _below(landing, plan)
    for number, (other, its_plan) in enumerate(answer.others, 2):
        yield Line("")
        price = f"{counted(other.connections, 'connection')}, {counted(other.jumpers, 'jumper')}"
        yield Line(f"Landing {number} ({price}):")
        yield from table(_HEAD, list(_rows(its_plan)), words=(0, 1, 2, 3))
        yield from _below(other, its_plan)


def _below(landing: Landing, plan: LandingPlan) -> Iterator[Said]:
    spare = landing.spare(plan.switch.terminals)
    if spare:
        yield Line(f"{', '.join(spare)}", 2, "spare:", "faint")
    for splice in plan.splices:
        yield Line(f"{listing(splice)} met on the old switch: splice them", 2, "!", "meant")


def _price(answer: FitAnswer, landing: Landing) -> str:
    spare = len(landing.spare(answer.offer.switch.terminals))
    said = (
        f"{counted(landing.connections, 'connection')}, {counted(landing.jumpers, 'jumper')}, "
        f"{counted(spare, 'lug')} spare"
    )
    if answer.proven:
        return f"{said}; no landing has less"
    return f"{said}; the time was over, with {answer.found.least_jumpers} jumpers or more to be had"


def needed_timing(answer: FitAnswer) -> str:
    """Which poles must make before they break, and which must not, where that is not known."""
    shorting = [pole for pole, timing in answer.asked if timing == "shorting"]
    others = [pole for pole, timing in answer.asked if timing == "non-shorting"]
    said = []
    if shorting:
        said.append(f"{_poles(shorting)} {_verb(shorting, 'makes')} before {_it(shorting)}")
    if others:
        said.append(f"{_poles(others)} {_verb(others, 'breaks')} before {_it(others, 'makes')}")
    return " and ".join(said)


def _verb(poles: Sequence[str], verb: str) -> str:
    return verb if len(poles) == 1 else verb.removesuffix("s")


def _it(poles: Sequence[str], verb: str = "breaks") -> str:
    return f"{'it' if len(poles) == 1 else 'they'} {_verb(poles, verb)}"


def _waived(answer: FitAnswer) -> Iterator[Said]:
    """What happens while switching that did not, for it was waived."""
    for finding in answer.result.findings if answer.result else ():
        if finding.kind not in INFORMATION:
            text = f"{finding.message} ({when(finding, _MOST_CASES)})"
            yield Line(text, 2, f"{finding.kind.upper()}:", "meant")


def _legend(task: SwitchTask, answer: FitAnswer, landing: Landing) -> Iterator[Said]:
    rows = []
    table_of_its_own = answer.offer.plain is None
    for index, (position, throw) in enumerate(answer.positions):
        if table_of_its_own:
            throw = answer.offer.detents[landing.detents[index]]
        ties = "; ".join(" – ".join(group) for group in _tied(task, answer, landing, index))
        rows.append((position, str(throw), ties or "nothing"))
    head = (task.bare.switch.control, "detent" if table_of_its_own else "throw", "joins")
    yield from table(head, rows, words=(0, 1, 2))
    if list(landing.detents) != sorted(landing.detents):
        yield Line("the knob's legend changes: letter it anew", 2, "!", "meant")


def _tied(
    task: SwitchTask, answer: FitAnswer, landing: Landing, position: int
) -> Iterator[list[str]]:
    """Stubs that the new switch ties at a position, by name."""
    lugs = answer.offer.switch.terminals
    place = {lug: len(task.bare.stubs) + number for number, lug in enumerate(lugs)}
    joiner = Joiner(len(task.bare.stubs) + len(lugs))
    for stubs, of_net in landing.nets:
        joiner.join([*stubs, *(place[lug] for lug in of_net)])
    for section in answer.offer.switch.sections:
        for group in section.groups[landing.detents[position]]:
            joiner.join([place[lug] for lug in group])
    groups: dict[int, list[str]] = {}
    for number, stub in enumerate(task.bare.stubs):
        groups.setdefault(joiner.root(number), []).append(stub.name(task.spec.points))
    yield from (group for group in groups.values() if len(group) > 1)


def _rows(plan: LandingPlan) -> Iterator[tuple[str, str, str, str]]:
    for lug in plan.switch.terminals:
        wires = [wire for wire in plan.wires if wire.lug == lug]
        lands = [wire for wire in wires if not wire.jumper]
        jumpers = [wire.to for wire in wires if wire.jumper]
        jumpers += [wire.lug for wire in plan.wires if wire.jumper and wire.to == lug]
        if not wires and not jumpers:
            continue
        colours = [wire.old.colour or "" for wire in lands if wire.old]
        yield (
            lug,
            ", ".join(w.to for w in lands),
            ", ".join(filter(None, colours)),
            ", ".join(jumpers),
        )


def _refused(task: SwitchTask, answer: FitAnswer) -> Iterator[Said]:
    if not answer.proven:
        said = f"{answer.offer.name}: the time was over before a landing was found, or refused"
        yield Line(said, 0, "LIMIT:", "bad")
        return
    name = task.bare.switch.name
    yield Line(f"{answer.offer.name} cannot take the place of {name}", 0, "NO FIT:", "bad")
    yield Line(f"{why_not(answer)}", 2)
    yield from _lost(answer)
    yield from _ways_out(answer)


def why_not(answer: FitAnswer) -> str:
    """The reason in a few words."""
    task = answer.task
    control, need = task.bare.switch.control, len(task.demands)
    form, have = answer.offer.plain, len(answer.offer.detents)
    if have < need:
        detents = counted(have, "throw" if form else "detent")
        return f"{control} has {need} positions, the switch {detents}"
    if answer.found.at_rest:
        return "it joins the right places at rest, but not while it moves"
    what = counted(form[0], f"{_timing(answer)}pole") if form else f"its {_timing(answer)}contacts"
    return f"no landing on {what} keeps every connection"


def _timing(answer: FitAnswer) -> str:
    """``shorting`` or ``non-shorting``, where all sections are stated to be."""
    sections = answer.offer.switch.sections
    stated = {section.timing for section in sections if section.timing_stated}
    if len(stated) != 1 or not all(section.timing_stated for section in sections):
        return ""
    (timing,) = stated
    return "" if timing == "unknown" else f"{timing} "


def _lost(answer: FitAnswer) -> Iterator[Said]:
    if answer.loss is None:
        return
    yield Line("")
    if answer.loss.connections:
        best = "The best attempt" if answer.loss.proven else "The best attempt in the time given"
        yield Line(f"Something must go. {best} loses {_ties(answer.loss.connections)}:")
    else:
        yield Line("The best attempt:")
    for finding in _told(answer.lost):
        where = when(finding, _MOST_CASES)
        text = f"{finding.message} ({where})" if where else finding.message
        yield Line(text, 2, f"{finding.kind.upper()}:", "bad")
        if finding.kind == "dropped" and finding.was:
            yield Line(" – ".join(finding.was), 5, "was", "faint")
        if finding.kind == "rule" and finding.why:
            yield Line(finding.why, 5, "why", "faint")


def _ties(count: int) -> str:
    return f"{counted(count, 'connection')}, each counted once per position"


def _told(lost: Sequence[Finding]) -> list[Finding]:
    """What is lost for good says enough of it: what is lost on the way as well is left out."""
    for_good = [finding for finding in lost if finding.kind in ("dropped", "rule")]
    return for_good if any(finding.kind == "dropped" for finding in lost) else list(lost)


def _ways_out(answer: FitAnswer) -> Iterator[Said]:
    out = answer.ways_out
    if out is None:
        return
    lines = list(_would_do(answer, out))
    if not lines:
        return
    yield Line("")
    yield Line("What would do:")
    yield from (Line(line, 2, "-") for line in lines)


def _would_do(answer: FitAnswer, out: WaysOut) -> Iterator[str]:
    form = answer.offer.plain
    if out.throws is not None:
        yield f"a switch with {out.throws} throws, or with a stop that can be set to {out.throws}"
    if out.timing:
        yield f"the same switch with {_timed(out.timing)}"
    if out.poles is not None and form:
        more = out.poles - form[0]
        yield f"{counted(out.poles, 'pole')}: {_form(out.poles, form[1])}"
        second = f"a second switch of {counted(more, 'pole')} on the same shaft"
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
        yield f"if it may happen while switching: {flags}; each case is then declared and told"
    for shared in out.combine:
        one, other = shared.places
        yield (
            f"only if nothing needs them apart: {one} and {other} connected for good. The original "
            f"opens them in {listing(shared.opened_at)}; that is lost"
        )


def _form(poles: int, throws: int) -> str:
    """As the trade writes it: two poles and two throws are a DPDT."""
    few = {1: "S", 2: "D"}
    if throws <= 2:
        return f"{few.get(poles, poles)}P{few[throws]}T"
    return f"{poles}P{throws}T"


def _timed(timing: Sequence[tuple[str, str]]) -> str:
    shorting = [pole for pole, how in timing if how == "shorting"]
    rest = [pole for pole, how in timing if how != "shorting"]
    if not shorting:
        return f"{_poles(rest)} non-shorting (break before make)"
    said = f"{_poles(shorting)} shorting (make before break)"
    return f"{said}, the rest not" if rest else said


def _poles(poles: Sequence[str]) -> str:
    return f"pole {poles[0]}" if len(poles) == 1 else f"poles {listing(poles)}"


def _table(answers: Sequence[FitAnswer]) -> Iterator[Said]:
    """All switches in one table, best first."""
    fitting = sum(answer.feasible for answer in answers)
    name = answers[0].task.bare.switch.name
    said = f"{fitting} of {len(answers)} switches can take the place of {name}"
    yield Line(said, 0, "", "good" if fitting else "bad")
    yield Line("")
    head = ("switch", "form", "on hand", "connections", "jumpers", "spare", "to know")
    rows = [_table_row(answer) for answer in answers]
    yield from table(head, rows, words=(0, 1, 6))


def _table_row(answer: FitAnswer) -> tuple[str, ...]:
    offer, landing = answer.offer, answer.landing
    form = offer.switch.form
    head = ("" if offer.name == form else offer.name) or form, form, str(offer.quantity)
    if landing is None:
        reason = why_not(answer) if answer.proven else "time over"
        return (*head, "", "", "", f"no: {reason}")
    spare = len(landing.spare(offer.switch.terminals))
    numbers = (str(landing.connections), str(landing.jumpers), str(spare))
    return (*head, *numbers, "; ".join(_to_know(answer)) or "fits")


def _to_know(answer: FitAnswer) -> Iterator[str]:
    if not answer.proven:
        yield "time over: perhaps not the fewest jumpers"
    if not answer.settled:
        yield f"if {needed_timing(answer)}"
    if answer.task.hardwired:
        yield f"with {counted(len(answer.task.hardwired), 'plain wire')}"
    over = [strain for strain in answer.strains if strain.bad]
    unknown = any(strain.kind in ("contact-volts", "volts-unknown") for strain in answer.strains)
    yield from (strain.message for strain in over)
    if not over and unknown:
        yield "rating unknown"
