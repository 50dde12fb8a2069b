"""A landing as a wiring in the spec's own file, every byte that stands there left as it is.

The block is made of the file's own nodes: parts, nets and wires of the original
are taken over as they were written, comments with them; it is then let into the
text behind the last wiring.
"""

from __future__ import annotations

import copy
import io
import json
from collections.abc import Iterator, Sequence
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode
from ruamel.yaml.resolver import VersionedResolver

from rewire.fit.answer import Answer
from rewire.fit.build import NewWire, Plan, changes_for
from rewire.fit.offers import Offer
from rewire.fit.search import Task
from rewire.records.spec import Section, Switch
from rewire.records.switches import default_lugs

_WIDTH = 4096


class _Texts(VersionedResolver):
    """Every scalar is the text that was typed."""

    @property
    def versioned_resolver(self) -> dict[str, Any]:
        """No text is anything but a text."""
        return {}


def with_landing(text: str, answer: Answer, name: str) -> str:
    """The text of a spec with a landing as one more wiring.

    Args:
        text: the whole file, good as it stands.
        answer: a landing.
        name: of the new wiring; none of this name is there.
    """
    assert answer.plan is not None
    tree = _yaml().load(text)
    block = _block(tree["wirings"]["original"], answer.task, answer, answer.plan)
    wirings = _child(_yaml().compose(io.StringIO(text)), "wirings")
    lines = text.splitlines(keepends=True)
    if wirings.flow_style:
        return _let_in_flow(lines, wirings, name, block)
    return _let_in_block(lines, wirings, name, block)


def _yaml() -> YAML:
    yaml = YAML(typ="rt")
    yaml.Resolver = _Texts
    yaml.preserve_quotes = True
    yaml.width = _WIDTH
    yaml.indent(mapping=2, sequence=4, offset=2)
    return yaml


def _child(node: Node, key: str) -> MappingNode:
    found = next(value for at, value in node.value if at.value == key)
    assert isinstance(found, MappingNode)
    return found


def _let_in_block(lines: list[str], wirings: MappingNode, name: str, block: CommentedMap) -> str:
    indent = wirings.value[0][0].start_mark.column
    last = _last_line(wirings)
    while last + 1 < len(lines) and _belongs(lines[last + 1], indent):
        last += 1
    ending = "\r\n" if lines[last].endswith("\r\n") else "\n"
    if not lines[last].endswith("\n"):
        lines[last] += ending
    out = io.StringIO()
    _yaml().dump(CommentedMap({name: block}), out)
    new = [f"{' ' * indent}{line}" if line else "" for line in out.getvalue().splitlines()]
    lines[last + 1 : last + 1] = [ending, *(line + ending for line in new)]
    return "".join(lines)


def _belongs(line: str, indent: int) -> bool:
    """Whether a comment line is part of the wiring above it."""
    bare = line.lstrip(" ")
    return bare.startswith("#") and len(line) - len(bare) > indent


def _let_in_flow(lines: list[str], wirings: MappingNode, name: str, block: CommentedMap) -> str:
    end = wirings.end_mark
    line = lines[end.line]
    before = "".join(lines[: end.line]) + line[: end.column - 1]
    rest = line[end.column - 1 :] + "".join(lines[end.line + 1 :])
    comma = "" if before.rstrip().endswith(",") else ", "
    said = (
        f"{json.dumps(name, ensure_ascii=False)}: {json.dumps(_plain(block), ensure_ascii=False)}"
    )
    return f"{before}{comma}{said}{rest}"


def _plain(node: Any) -> Any:
    if isinstance(node, dict):
        return {str(key): _plain(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_plain(item) for item in node]
    return str(node)


def _last_line(node: Node) -> int:
    """The last line, from 0, that something of a node stands on."""
    if isinstance(node, ScalarNode) or getattr(node, "flow_style", False):
        mark = node.end_mark
        last = mark.line if mark.column else mark.line - 1
        return int(max(last, node.start_mark.line))
    inside = [n for pair in node.value for n in (pair if isinstance(pair, tuple) else (pair,))]
    return max((_last_line(one) for one in inside), default=node.start_mark.line)


def _block(original: CommentedMap, task: Task, answer: Answer, plan: Plan) -> CommentedMap:
    old = task.bare.switch
    gone = frozenset(old.terminal(lug) for lug in old.terminals)
    block = CommentedMap()
    block["note"] = _note(old, plan.switch, answer)
    block["parts"] = _parts(original, task, answer, plan, gone)
    nets = _nets(original.get("nets"), gone)
    nets = _more_nets(nets, [*_leads(original, gone), *map(list, plan.splices)])
    if nets:
        block["nets"] = nets
    block["wires"] = CommentedSeq(
        [
            *_kept_wires(original.get("wires"), gone),
            *(_flow({"from": one, "to": other}) for one, other in task.hardwired),
            *_new_wires(original, plan, gone),
        ]
    )
    changes = list(_changes(task, answer))
    if changes:
        block["changes"] = CommentedSeq(changes)
    for key in ("readings",):
        if key in original:
            block[key] = copy.deepcopy(original[key])
    return block


def _note(old: Switch, new: Switch, answer: Answer) -> str:
    said = f"{old.name} replaced by {new.name} ({answer.offer.name}), as fitted"
    if answer.settled:
        return said
    return f"{said}. Its timing is what it must be, not what is known: buzz it before you solder"


def _flow(pairs: dict[str, Any]) -> CommentedMap:
    found = CommentedMap(pairs)
    found.fa.set_flow_style()
    return found


def _row(items: Sequence[Any]) -> CommentedSeq:
    found = CommentedSeq(items)
    found.fa.set_flow_style()
    return found


def _parts(
    original: CommentedMap, task: Task, answer: Answer, plan: Plan, gone: frozenset[str]
) -> CommentedMap:
    parts = CommentedMap()
    for name, part in original["parts"].items():
        if name == task.bare.switch.name:
            parts[plan.switch.name] = _switch(answer, plan.switch)
            continue
        parts[name] = copy.deepcopy(part)
        if gone & {*part.get("between", ())}:
            del parts[name]["between"]
    return parts


def _switch(answer: Answer, switch: Switch) -> CommentedMap:
    offer = answer.offer
    found = CommentedMap({"switch": offer.switch.form, "control": switch.control})
    if offer.plain is None:
        found["lugs"] = _row(switch.terminals)
        found["contacts"] = _contacts(answer)
    else:
        if [list(row) for row in offer.switch.poles] != default_lugs(*offer.plain):
            found["lugs"] = _row([_row(row) for row in offer.switch.poles])
        if [throw for _, throw in answer.positions] != list(range(1, len(answer.positions) + 1)):
            found["positions"] = _flow({at: str(throw) for at, throw in answer.positions})
    timing = _timing(offer, answer)
    if timing is not None:
        found["timing"] = timing
    found.update(_further(offer))
    return found


def _contacts(answer: Answer) -> CommentedMap:
    found = CommentedMap()
    assert answer.landing is not None
    for position, detent in zip(answer.controls, answer.landing.way, strict=True):
        groups = [g for section in answer.offer.switch.sections for g in section.groups[detent]]
        found[position] = _row([_row(group) for group in groups])
    return found


def _timing(offer: Offer, answer: Answer) -> Any:
    assert answer.landing is not None
    stated = all(section.timing_stated for section in offer.switch.sections)
    if not stated and not answer.asked:
        return None
    pairs = zip(offer.switch.sections, answer.landing.timings, strict=True)
    by_lug = {_any_lug(section): timing for section, timing in pairs}
    kinds = set(by_lug.values())
    return kinds.pop() if len(kinds) == 1 else _flow(dict(by_lug))


def _any_lug(section: Section) -> str:
    return section.lugs[0]


def _further(offer: Offer) -> dict[str, Any]:
    """Style, rating and what else is known of the switch."""
    switch = offer.switch
    found: dict[str, Any] = {}
    if switch.style:
        found["style"] = switch.style
    rating = {
        "volts": switch.rating.volts,
        "amps": switch.rating.amps,
        "shaft_volts": switch.rating.shaft_volts,
    }
    known = {key: f"{value:.12g}" for key, value in rating.items() if value is not None}
    if known:
        found["rating"] = _flow(known)
    if switch.contact_resistance is not None:
        found["contact_resistance"] = f"{switch.contact_resistance:.12g} ohm"
    if switch.note:
        found["note"] = switch.note
    return found


def _nets(nets: Any, gone: frozenset[str]) -> Any:
    if isinstance(nets, dict):
        kept = copy.deepcopy(nets)
        for key, net in nets.items():
            _without(kept[key], gone)
            if len(kept[key]) < 2 <= len(net):
                del kept[key]
        return kept
    found = CommentedSeq()
    for net in nets or ():
        one = copy.deepcopy(net)
        _without(one, gone)
        if len(one) > 1:
            found.append(one)
    return found


def _without(net: list[str], gone: frozenset[str]) -> None:
    for index in reversed(range(len(net))):
        if net[index] in gone:
            del net[index]


def _more_nets(nets: Any, further: list[list[str]]) -> Any:
    for number, members in enumerate(further, 1):
        if isinstance(nets, dict):
            name = f"splice_{number}"
            while name in nets:
                name += "_"
            nets[name] = _row(members)
        else:
            nets.append(_row(members))
    return nets


def _leads(original: CommentedMap, gone: frozenset[str]) -> Iterator[list[str]]:
    """The other lead of a part that had one on the switch."""
    for name, part in original["parts"].items():
        between = part.get("between") or ()
        if not gone & {*between}:
            continue
        lugs = ("A", "K") if "diode" in part else ("+", "-") if "meter" in part else ("1", "2")
        for lug, place in zip(lugs, between, strict=True):
            if place not in gone:
                yield [f"{name}.{lug}", str(place)]


def _ends(wire: Any) -> tuple[str, str]:
    return (wire["from"], wire["to"]) if isinstance(wire, dict) else (wire[0], wire[1])


def _kept_wires(wires: Any, gone: frozenset[str]) -> Iterator[Any]:
    yield from (copy.deepcopy(wire) for wire in wires or () if not gone & {*_ends(wire)})


def _new_wires(original: CommentedMap, plan: Plan, gone: frozenset[str]) -> Iterator[CommentedMap]:
    for wire in plan.wires:
        to = plan.switch.terminal(wire.to) if wire.jumper else wire.to
        found = _flow({"from": plan.switch.terminal(wire.lug), "to": to})
        found.update(_as_before(original, wire, gone))
        yield found


def _as_before(original: CommentedMap, wire: NewWire, gone: frozenset[str]) -> dict[str, Any]:
    """Colour and kind of the wire that went to the same place, which may go there again."""
    for old in (w for w in original.get("wires") or () if not wire.jumper):
        ends = {*_ends(old)}
        if wire.to not in ends or not ends & gone:
            continue
        if not isinstance(old, dict):
            return {"colour": old[2]} if len(old) > 2 else {}
        taken = ("colour", "color", "gauge", "insulation", "screened", "note")
        return {key: old[key] for key in taken if key in old}
    return {}


def _changes(task: Task, answer: Answer) -> Iterator[CommentedMap]:
    """What is waived, declared."""
    findings = answer.result.findings if answer.result else ()
    for change in changes_for(findings, task.waived, task.bare.switch.place):
        written: dict[str, Any] = {change.kind: _row(change.anchors)}
        if change.when:
            when = {control: _row(positions) for control, positions in change.when.items()}
            written["when"] = _flow(when)
        written["why"] = change.why
        yield CommentedMap(written)
