"""A spec as somebody would write it by hand: a comment to each section, a line to each thing."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch, pole_letters

Block = dict[str, Any]
"""A piece of a spec, as texts, lists and mappings."""
_WIDEST = 98
_PLAIN = re.compile(r"[A-Za-z0-9.+%µΩ-]([A-Za-z0-9 '_.+/%µΩ()-]*[A-Za-z0-9'_.+/%µΩ)-])?")
_HEAD = """\
# Written by rewire new --ask from your answers; change what is wrong.
#
#   rewire check  {0}    does the new wiring keep every connection?
#   rewire draw   {0}    the card: what is soldered where, and the circuit
#   rewire values {0}    how well does the meter read, what do the parts stand?
# yaml-language-server: $schema=schema.json
# (for editors that complete as you type; once, in this folder: rewire schema > schema.json)
rewire: 1
"""
_SAID = {
    "controls": "What the operator moves, with its positions in order of travel.",
    "points": (
        "Points of the set that the wiring must reach and that no swap changes. Volts are to "
        "chassis, in\n# operation; rises_to is what a point goes up to with its load taken off. "
        "Not given is unknown."
    ),
    "parts": "Parts that stay where they are, whatever is fitted.",
    "readings": (
        "What the meter must show, and when: a current enters at the first point and leaves at "
        "the second.\n# full_scale is the true value with the pointer at the end of the arc."
    ),
}
_OF_WIRINGS = {
    "original": "As the maker built it: what is wired, from, to and colour.",
    "as-found": "As it lay on the bench: somebody was there before.",
    "planned": "As planned.",
}


def flow(value: object) -> str:
    """A text, a list or a mapping on one line, as a spec has it.

    >>> flow({"from": "S1.A", "note": "top, left", "id": ["W1"]})
    '{from: S1.A, note: "top, left", id: [W1]}'
    """
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{flow(key)}: {flow(one)}' for key, one in value.items())}}}"
    if isinstance(value, str):
        is_plain = _PLAIN.fullmatch(value) and not re.match(r"-( |$)", value)
        return value if is_plain else json.dumps(value, ensure_ascii=False)
    return f"[{', '.join(map(flow, value))}]" if isinstance(value, Iterable) else str(value)


def spec_text(block: Block, file: str, spec: Spec | None = None) -> str:
    """The text of a spec from all of it but ``rewire: 1``; what is empty is left out.

    The file's name is for its first comment; ``spec`` tells which lug is of which pole.
    """
    lines = [_HEAD.format(file if file.isprintable() else "SPEC").rstrip("\n")]
    for key, value in block.items():
        if isinstance(value, str):
            lines += [f"{key}: {flow(value)}"] if value else []
        elif key == "wirings":
            lines += ["", "wirings:"]
            for number, name in enumerate(value):
                poles = {} if spec is None else dict(_poles(spec, spec.wirings[name]))
                lines += [*([""] if number else []), *_wiring(name, value[name], poles)]
        elif value:
            lines += ["", f"# {_SAID[key]}", f"{key}:"]
            lines += [line for name in value for line in _entry(2, name, value[name])]
    return "\n".join(lines) + "\n"


def _entry(indent: int, key: str, value: Any) -> Iterator[str]:
    """A key and its value: on one line where they fit."""
    line = f"{' ' * indent}{flow(key)}: {flow(value)}"
    if len(line) <= _WIDEST or not isinstance(value, Mapping):
        yield line
        return
    yield f"{' ' * indent}{flow(key)}:"
    for name, one in value.items():
        yield from _entry(indent + 2, name, one)


def _wiring(name: str, block: Block, poles: Mapping[str, str]) -> Iterator[str]:
    yield f"  # {_OF_WIRINGS.get(name, 'Another wiring.')}"
    yield f"  {name}:"
    yield "    parts:" if block["parts"] else "    parts: {}"
    for part, value in block["parts"].items():
        yield from _entry(6, part, value)
    yield "    wires:" if block["wires"] else "    wires: []"
    groups: dict[str, list[list[str]]] = {}
    for wire in block["wires"]:
        group = poles.get(wire[0]) or wire[0].partition(".")[0]
        groups.setdefault(group, []).append(wire)
    for group, wires in groups.items():
        yield f"      # {group}"
        yield from (f"      - {flow([one for one in wire if one])}" for wire in wires)


def _poles(spec: Spec, wiring: Wiring) -> Iterator[tuple[str, str]]:
    """Every lug of a switch of several poles, and which pole it is of."""
    for name, switch in spec.all_of(Switch, wiring).items():
        if len(switch.poles) > 1:
            for letter, lugs in zip(pole_letters(len(switch.poles)), switch.poles, strict=True):
                yield from ((switch.terminal(lug), f"{name}, pole {letter}") for lug in lugs)
