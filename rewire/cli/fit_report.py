"""The answers of ``rewire fit`` in plain text: lug by lug, to read with the iron in hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.circuit.nets import Joiner
from rewire.cli.check_report import counted
from rewire.cli.table import table
from rewire.cli.terminal import Line
from rewire.compare.when import when
from rewire.compare.words import listing
from rewire.fit.answer import Answer
from rewire.fit.build import Plan, stub_name
from rewire.fit.landing import Landing
from rewire.fit.search import Task

Said = Line | str
_MOST_CASES = 6


def report(task: Task, answers: Sequence[Answer]) -> Iterator[Said]:
    """Every answer, one after the other."""
    for number, answer in enumerate(answers):
        if number:
            yield Line("")
        if answer.landing is not None and answer.plan is not None:
            yield from _landed(task, answer, answer.landing, answer.plan)
        else:
            yield from _refused(task, answer)


def _landed(task: Task, answer: Answer, landing: Landing, plan: Plan) -> Iterator[Said]:
    verdict = answer.result.verdict if answer.result else "kept"
    said = f"{answer.offer.name} takes the place of {task.bare.switch.name}"
    yield Line(said, 0, "FITS:", "good")
    yield Line(f"{_price(answer, landing)}; checked: {verdict}", 2)
    for line in _timings(answer):
        yield Line(line, 2, "!", "meant")
    yield Line("")
    yield Line("The knob:")
    yield from _legend(task, answer, landing)
    yield Line("")
    yield Line(f"Lug by lug ({plan.switch.name}):")
    yield from table(("lug", "lands", "wire", "jumper to"), list(_rows(plan)), words=(0, 1, 2, 3))
    spare = landing.spare(plan.switch.terminals)
    if spare:
        yield Line(f"{', '.join(spare)}", 2, "spare:", "faint")
    for splice in plan.splices:
        yield Line(f"{listing(splice)} met on the old switch: splice them", 2, "!", "meant")


def _price(answer: Answer, landing: Landing) -> str:
    spare = len(landing.spare(answer.offer.switch.terminals))
    said = (
        f"{counted(landing.connections, 'connection')}, {counted(landing.jumpers, 'jumper')}, "
        f"{counted(spare, 'lug')} spare"
    )
    if answer.proven:
        return f"{said}; no landing has less"
    return f"{said}; the time was over, with {answer.least_jumpers} jumpers or more to be had"


def _timings(answer: Answer) -> Iterator[str]:
    words = {"shorting": "shorting (make before break)", "non-shorting": "non-shorting"}
    for timing, said in words.items():
        poles = [pole for pole, needed in answer.asked if needed == timing]
        if poles:
            noun = "pole" if len(poles) == 1 else "poles"
            yield f"{noun} {listing(poles)} must be {said}: not stated, so look before you buy"


def _legend(task: Task, answer: Answer, landing: Landing) -> Iterator[Said]:
    rows = []
    for index, (position, throw) in enumerate(answer.positions):
        ties = "; ".join(" – ".join(group) for group in _tied(task, answer, landing, index))
        rows.append((position, str(throw), ties or "nothing"))
    yield from table((task.bare.switch.control, "throw", "joins"), rows, words=(0, 1, 2))


def _tied(task: Task, answer: Answer, landing: Landing, position: int) -> Iterator[list[str]]:
    """Stubs that the new switch ties at a position, by name."""
    lugs = answer.offer.switch.terminals
    place = {lug: len(task.bare.stubs) + number for number, lug in enumerate(lugs)}
    joiner = Joiner(len(task.bare.stubs) + len(lugs))
    for stubs, of_net in landing.nets:
        joiner.join([*stubs, *(place[lug] for lug in of_net)])
    for section in answer.offer.switch.sections:
        for group in section.groups[landing.way[position]]:
            joiner.join([place[lug] for lug in group])
    groups: dict[int, list[str]] = {}
    for number, stub in enumerate(task.bare.stubs):
        groups.setdefault(joiner.root(number), []).append(stub_name(stub, task.spec.points))
    yield from (group for group in groups.values() if len(group) > 1)


def _rows(plan: Plan) -> Iterator[tuple[str, str, str, str]]:
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


def _refused(task: Task, answer: Answer) -> Iterator[Said]:
    if not answer.proven:
        said = f"{answer.offer.name}: the time was over before a landing was found, or refused"
        yield Line(said, 0, "LIMIT:", "bad")
        return
    name = task.bare.switch.name
    yield Line(f"{answer.offer.name} cannot take the place of {name}", 0, "NO FIT:", "bad")
    loss = answer.loss
    if loss is None:
        need, have = len(task.demands), len(answer.offer.detents)
        control = task.bare.switch.control
        yield Line(f"{control} has {need} positions, the switch has {counted(have, 'throw')}", 2)
        return
    if loss.ties:
        yield Line(f"something must go; the least is {counted(loss.ties, 'connection')}:", 2)
    else:
        yield Line("it ties the right places at rest, but not while switching:", 2)
    for finding in answer.lost:
        text = f"{finding.message} ({when(finding, _MOST_CASES)})"
        yield Line(text, 2, f"{finding.kind.upper()}:", "bad")
        if finding.kind == "dropped" and finding.was:
            yield Line(" – ".join(finding.was), 5, "was    ", "faint")
