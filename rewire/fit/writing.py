"""What was found, as one more wiring in the text of a spec: every other byte stays.

A timing without which it is not right, and that nobody knows, goes among the spec's cautions.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import yaml
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from rewire.fit.offers import LandingPlan, NewWire, changes_for
from rewire.records.mount import mount_written
from rewire.records.part import Part
from rewire.records.switches import default_lugs
from rewire.words.wording import listing

if TYPE_CHECKING:
    from rewire.fit.answer import FitAnswer

_WIDTH = 4096
Block = dict[str, Any]


class _Texts(yaml.SafeDumper):
    """Every scalar is the text that was typed; lists stand two columns in."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012  as the library declares it

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        """Lists in a mapping are indented too."""
        super().increase_indent(flow, indentless=False)

    def ignore_aliases(self, data: Any) -> bool:
        """What stands twice is written twice."""
        return True


def with_landing(text: str, answer: FitAnswer, name: str) -> str:
    """The text of a spec with an answer as one more wiring, and the timing to be buzzed first.

    Args:
        text: the whole file, good as it stands.
        answer: one that fits.
        name: of the new wiring; none of this name is there.
    """
    assert answer.plan is not None
    tree = yaml.load(text, yaml.BaseLoader)
    block = _block(tree["wirings"]["original"], answer, answer.plan)
    root = yaml.compose(text, yaml.BaseLoader)
    assert isinstance(root, MappingNode)
    wirings = next(value for key, value in root.value if key.value == "wirings")
    written = _with_entry(text, wirings, {name: block})
    return written if answer.settled else _with_caution(written, _to_be_buzzed(answer, name))


def _to_be_buzzed(answer: FitAnswer, name: str) -> str:
    assert answer.plan is not None
    return (
        f"{answer.plan.switch.name}: wiring {name} is right only if {needed_timing(answer)}: buzz "
        "it with the knob held half way between two positions before you solder"
    )


def needed_timing(answer: FitAnswer) -> str:
    """Which poles must make before they break, and which must not, where that is not known."""
    shorting = [pole for pole, timing in answer.asked if timing == "shorting"]
    others = [pole for pole, timing in answer.asked if timing == "non-shorting"]
    pairs = ((shorting, "make", "break"), (others, "break", "make"))
    return " and ".join(
        f"{poles_said(poles)} {one}s before it {other}s"
        if len(poles) == 1
        else f"{poles_said(poles)} {one} before they {other}"
        for poles, one, other in pairs
        if poles
    )


def poles_said(poles: Sequence[str]) -> str:
    """``pole C``, ``poles A and B``."""
    return f"pole {poles[0]}" if len(poles) == 1 else f"poles {listing(poles)}"


def _with_caution(text: str, said: str) -> str:
    """The text of a spec with one more of its own cautions, the last."""
    root = yaml.compose(text, yaml.BaseLoader)
    assert isinstance(root, MappingNode)
    cautions = next((value for key, value in root.value if key.value == "cautions"), None)
    if cautions is None:
        return _with_entry(text, root, {"cautions": [said]})
    if isinstance(cautions, SequenceNode):
        return _with_entry(text, cautions, [said])
    before, after = text[: cautions.start_mark.index], text[cautions.end_mark.index :]
    return f"{before.rstrip(' ')} {json.dumps([said], ensure_ascii=False)}{after}"


def _with_entry(text: str, node: MappingNode | SequenceNode, entry: Block | list[str]) -> str:
    """The text with one more entry at the end of a mapping or a list, in its style."""
    lines = text.splitlines(keepends=True)
    if node.flow_style:
        return _let_in_flow(lines, node, entry)
    return _let_in_block(lines, node, entry)


def _let_in_block(
    lines: list[str], node: MappingNode | SequenceNode, entry: Block | list[str]
) -> str:
    indent = node.start_mark.column
    last = _last_line(node)
    while last + 1 < len(lines) and _belongs(lines[last + 1], indent):
        last += 1
    ending = "\r\n" if lines[last].endswith("\r\n") else "\n"
    if not lines[last].endswith("\n"):
        lines[last] += ending
    new = yaml.dump(
        entry,
        Dumper=_Texts,
        sort_keys=False,
        default_flow_style=None if isinstance(entry, dict) else False,
        width=_WIDTH,
        allow_unicode=True,
    )
    apart = [ending] if isinstance(entry, dict) else []
    indented = [f"{' ' * indent}{line}{ending}" for line in new.splitlines()]
    lines[last + 1 : last + 1] = [*apart, *indented]
    return "".join(lines)


def _belongs(line: str, indent: int) -> bool:
    """Whether a comment line is part of the wiring above it."""
    bare = line.lstrip(" ")
    return bare.startswith("#") and len(line) - len(bare) > indent


def _let_in_flow(
    lines: list[str], node: MappingNode | SequenceNode, entry: Block | list[str]
) -> str:
    end = node.end_mark
    line = lines[end.line]
    before = "".join(lines[: end.line]) + line[: end.column - 1]
    rest = line[end.column - 1 :] + "".join(lines[end.line + 1 :])
    comma = ", " if node.value and not before.rstrip().endswith(",") else ""
    said = json.dumps(entry, ensure_ascii=False)[1:-1]
    return f"{before}{comma}{said}{rest}"


def _last_line(node: Node) -> int:
    """The last line, from 0, that something of a node stands on."""
    if isinstance(node, ScalarNode) or getattr(node, "flow_style", False):
        mark = node.end_mark
        last = mark.line if mark.column else mark.line - 1
        return int(max(last, node.start_mark.line))
    inside = [n for pair in node.value for n in (pair if isinstance(pair, tuple) else (pair,))]
    return max((_last_line(one) for one in inside), default=node.start_mark.line)


def _block(original: Block, answer: FitAnswer, plan: LandingPlan) -> Block:
    task, old = answer.task, answer.task.bare.switch
    gone = frozenset(old.terminal(lug) for lug in old.terminals)
    leads = _leads(task.bare.spec.original.parts, gone)
    wires = [
        *(wire for wire in original.get("wires", ()) if not gone & {*_ends(wire)}),
        *({"from": one, "to": other} for one, other in task.hardwired),
        *_new_wires(original, plan, gone),
    ]
    block = {
        "note": f"{old.name} replaced by {plan.switch.name} ({answer.offer.name}) as fitted, "
        "all else as in the original",
        "parts": dict(_parts(original, answer, plan, gone)),
        "nets": _nets(original.get("nets", []), gone, [*leads, *map(list, plan.splices)]),
        "wires": wires,
        "changes": list(_changes(answer)),
        "readings": original.get("readings"),
    }
    return {key: value for key, value in block.items() if value or key == "wires"}


def _parts(
    original: Block, answer: FitAnswer, plan: LandingPlan, gone: frozenset[str]
) -> Iterator[tuple[str, Block]]:
    for name, part in original["parts"].items():
        if name == answer.task.bare.switch.name:
            yield plan.switch.name, _switch(answer, plan)
        elif gone & {*part.get("between", ())}:
            yield name, {key: value for key, value in part.items() if key != "between"}
        else:
            yield name, part


def _switch(answer: FitAnswer, plan: LandingPlan) -> Block:
    offer, switch, positions = answer.offer, plan.switch, answer.positions
    found: Block = {"switch": offer.switch.form, "control": switch.control}
    if offer.plain is None:
        found |= {"lugs": list(switch.terminals), "contacts": _contacts(answer)}
    else:
        rows = [list(row) for row in offer.switch.poles]
        if rows != default_lugs(*offer.plain):
            found["lugs"] = rows
        if [throw for _, throw in positions] != list(range(1, len(positions) + 1)):
            found["positions"] = {at: str(throw) for at, throw in positions}
    timing = _timing(answer)
    return found | ({"timing": timing} if timing else {}) | _further(answer)


def _contacts(answer: FitAnswer) -> Block:
    assert answer.landing is not None
    sections = answer.offer.switch.sections
    return {
        position: [list(group) for section in sections for group in section.groups[detent]]
        for position, detent in zip(answer.task.positions, answer.landing.detents, strict=True)
    }


def _timing(answer: FitAnswer) -> str | Block | None:
    assert answer.landing is not None
    sections = answer.offer.switch.sections
    if not all(section.timing_stated for section in sections) and not answer.asked:
        return None
    pairs = zip(sections, answer.landing.timings, strict=True)
    by_lug: dict[str, Any] = {section.lugs[0]: timing for section, timing in pairs}
    kinds = set(by_lug.values())
    return by_lug if len(kinds) > 1 else str(kinds.pop())


def _further(answer: FitAnswer) -> Block:
    """Style, rating and what else is known of the switch."""
    switch = answer.offer.switch
    rating = {
        key: f"{value:.12g}"
        for key in ("volts", "amps", "shaft_volts")
        if (value := getattr(switch.rating, key)) is not None
    }
    resistance = switch.contact_resistance
    found = {
        "style": switch.style,
        "rating": rating,
        "contact_resistance": None if resistance is None else f"{resistance:.12g} ohm",
        "mount": mount_written(switch.mount),
        "note": switch.note,
    }
    return {key: value for key, value in found.items() if value}


def _nets(nets: Any, gone: frozenset[str], further: list[list[str]]) -> Any:
    """Nets without the lugs that are gone, in the form they are written in, and further ones."""
    named = dict(nets) if isinstance(nets, dict) else dict(enumerate(nets))
    kept = {key: [name for name in net if name not in gone] for key, net in named.items()}
    kept = {key: net for key, net in kept.items() if len(net) > 1 or len(named[key]) < 2}
    for number, members in enumerate(further, 1):
        name = f"splice_{number}"
        while name in kept:
            name += "_"
        kept[name] = members
    return kept if isinstance(nets, dict) else list(kept.values())


def _leads(parts: Mapping[str, Part], gone: frozenset[str]) -> Iterator[list[str]]:
    """The other lead of a part that had one on the switch."""
    for part in parts.values():
        between = part.between or ()
        if gone & {*between}:
            leads = zip(part.terminals, between, strict=False)
            yield from ([part.terminal(lug), at] for lug, at in leads if at not in gone)


def _ends(wire: Any) -> tuple[str, str]:
    return (wire["from"], wire["to"]) if isinstance(wire, dict) else (wire[0], wire[1])


def _new_wires(original: Block, plan: LandingPlan, gone: frozenset[str]) -> Iterator[Block]:
    for wire in plan.wires:
        to = plan.switch.terminal(wire.to) if wire.jumper else wire.to
        ends = {"from": plan.switch.terminal(wire.lug), "to": to}
        yield ends | ({} if wire.jumper else _as_before(original, wire, gone))


def _as_before(original: Block, wire: NewWire, gone: frozenset[str]) -> Block:
    """Colour and kind of the wire that went to the same place, which may go there again."""
    for old in original.get("wires", ()):
        ends = {*_ends(old)}
        if wire.to not in ends or not ends & gone:
            continue
        if not isinstance(old, dict):
            return {"colour": old[2]} if len(old) > 2 else {}
        taken = ("colour", "color", "gauge", "insulation", "screened", "note")
        return {key: old[key] for key in taken if key in old}
    return {}


def _changes(answer: FitAnswer) -> Iterator[Block]:
    """What is waived, declared."""
    task = answer.task
    findings = answer.result.findings if answer.result else ()
    for change in changes_for(findings, task.waived, task.bare.switch.place):
        when = {control: list(positions) for control, positions in change.when.items()}
        found = {change.kind: list(change.anchors), "when": when, "why": change.why}
        yield {key: value for key, value in found.items() if value}
