"""Is every key known and every value of its kind? All faults of a file in one run.

Pydantic judges the whole tree. What it refuses is noted with its place and cut
out, as little as will do, and the rest is judged again: so one bad value does not
hide what else is wrong.
"""

from __future__ import annotations

import functools
import re
import types
import typing
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError

from rewire.spec.quantity import without_comma
from rewire.spec.report import Hint, Nearest, Report, shown
from rewire.spec.text import Mapping, Node, Path, Scalar, Sequence, plain, torn_in
from rewire.spec.written import VERSION, WrittenSpec
from rewire.spec.written_parts import KINDS
from rewire.spec.written_wirings import CHANGES

_TWINS = {"colour": "color", "licence": "license", "polarised": "polarized"}
_WIRE_ITEMS = {"from": 0, "to": 1, "colour": 2}
_ROUNDS = 8
_KEY_MARK = "[key]"
_PART = ("parts", "*")
_WIRING = ("wirings", "*")
_RECORDS: tuple[Path, ...] = (
    ("*",), ("document", "*"), ("bench", "*"), ("controls", "*"), ("never", "*"),
    ("points", "*"), ("cautions", "*"), ("found", "*"), ("procedure", "*"),
    ("procedure", "*", "*"), ("acceptance", "*"), ("pages", "*"), ("pages", "*", "notes", "*"),
    _PART, ("readings", "*"), ("rules", "*"), _WIRING, (*_WIRING, "*"), (*_WIRING, *_PART),
    (*_WIRING, "nets", "*"), (*_WIRING, "wires", "*"), (*_WIRING, "changes", "*"),
    (*_WIRING, "readings", "*"),
)  # fmt: skip
"""What can be cut out as a whole."""
_KEYED: dict[Path, frozenset[str]] = {
    ("controls", "*", "*"): frozenset({"positions"}),
    ("points", "*", "*"): frozenset(),
    (*_PART, "*"): frozenset({"switch", "strip", "lugs", "contacts", "control"}),
    ("readings", "*", "*"): frozenset({"current", "voltage"}),
    ("rules", "*", "*"): frozenset({"connect", "isolate"}),
    (*_WIRING, "wires", "*", "*"): frozenset({"from", "to"}),
    (*_WIRING, "changes", "*", "*"): frozenset({*CHANGES, "between"}),
}
_KEYED |= {
    (*_WIRING, *path): keep for path, keep in _KEYED.items() if path[0] in ("parts", "readings")
}
"""Where one key can be cut out, but for those without which the rest has no sense."""
_STAND_INS = {
    "rewire": VERSION,
    "title": "?",
    "meter": "1 mA",
    "resistor": "1 ohm",
    "pot": "1 ohm",
    "capacitor": "1 nF",
    "choke": "1 H",
    "diode": "silicon",
    "lamp": "1 V",
    "fuse": "1 A",
}
"""A malformed value that cannot be left out gives way to one that does no harm."""


@dataclass(frozen=True, slots=True)
class _Wrong:
    """One refusal: where (with pydantic's tags and key marks), of which type, with what said."""

    where: Path
    path: Path
    """Where, as steps in the tree."""
    type: str
    context: dict[str, Any]


@dataclass(slots=True)
class Shaped:
    """What is left of a file after everything malformed was cut out.

    ``broken`` are the paths of what was cut out, so that a name that points there
    is not called unknown as well.
    """

    spec: WrittenSpec
    tree: Mapping
    broken: set[Path] = field(default_factory=set)


def shape(tree: Mapping, report: Report) -> Shaped | None:
    """Judge a tree key by key; None if too little is left of it to look further.

    Args:
        tree: as parsed; what is malformed is cut out of it.
        report: receives a fault for all that was cut out.
    """
    broken = _torn_out(tree) if report else set()
    for count in range(_ROUNDS):
        try:
            return Shaped(WrittenSpec.model_validate(plain(tree)), tree, broken)
        except ValidationError as error:
            errors = [
                _Wrong(item["loc"], _steps(item["loc"]), item["type"], item.get("ctx", {}))
                for item in error.errors(include_url=False, include_input=False)
            ]
        if count == 0:
            for wrong in errors:
                if not _is_in(wrong.path, broken):
                    _report(tree, wrong, report)
        cuts = {_cut(tree, wrong.path) for wrong in errors}
        broken |= cuts
        for cut in sorted(cuts, key=_by_index, reverse=True):
            _take_out(tree, cut)
    return None


def _torn_out(tree: Mapping) -> set[Path]:
    """Cut out what could not be read, which has been reported; where that was."""
    cuts = {_cut(tree, path) for path in torn_in(tree)}
    for cut in sorted(cuts, key=_by_index, reverse=True):
        _take_out(tree, cut)
    return cuts


def _is_in(path: Path, broken: set[Path]) -> bool:
    return any(path[:length] in broken for length in range(1, len(path) + 1))


def node_at(tree: Node, path: Path) -> tuple[Node, Scalar | None]:
    """The node at a path (or the deepest on the way that exists) and its key."""
    node, key = tree, None
    for step in path:
        found = _child(node, step)
        if found is None:
            break
        node, key = found
    return node, key


def child(node: Node, *path: str | int) -> Node:
    """The node at a path, or the deepest on the way that exists."""
    return node_at(node, path)[0]


def _child(node: Node, step: str | int) -> tuple[Node, Scalar | None] | None:
    if isinstance(node, Mapping):
        name = step if step in node.entries else _TWINS.get(str(step), "")
        return (node.entries[name], node.keys[name]) if name in node.entries else None
    if isinstance(node, Sequence):
        index = _WIRE_ITEMS.get(step) if isinstance(step, str) else step
        inside = index is not None and index < len(node.items)
        return (node.items[index], None) if inside and index is not None else None
    return None


def _steps(where: Path) -> Path:
    return tuple(step for step in where if not _is_tag(step) and step != _KEY_MARK)


def _is_tag(step: str | int) -> bool:
    return isinstance(step, str) and step.startswith("<") and step.endswith(">")


def _by_index(cut: Path) -> tuple[int, ...]:
    """Order in which later items of one list come later, whatever else."""
    return tuple(step if isinstance(step, int) else -1 for step in cut)


def _cut(tree: Mapping, path: Path) -> Path:
    """The smallest thing around what is wrong that can be cut out alone."""
    for length in range(len(path), 0, -1):
        part = path[:length]
        if _can_be_cut(_any_item(part)) and _exists(tree, part):
            return part
    return path


@functools.lru_cache(maxsize=10_000)
def _can_be_cut(path: Path) -> bool:
    if any(_matches(path, record) for record in _RECORDS):
        return True
    return any(_matches(path, keyed) and path[-1] not in keep for keyed, keep in _KEYED.items())


def _any_item(path: Path) -> Path:
    """The same path for every item of a list: a hundred thousand wires are asked about once."""
    return tuple(0 if isinstance(step, int) else step for step in path)


def _matches(path: Path, record: Path) -> bool:
    return len(path) == len(record) and all(
        want in ("*", step) for step, want in zip(path, record, strict=True)
    )


def _exists(tree: Mapping, path: Path) -> bool:
    node: Node = tree
    for step in path:
        found = _child(node, step)
        if found is None:
            return False
        node = found[0]
    return True


def _take_out(tree: Mapping, path: Path) -> None:
    holder = child(tree, *path[:-1])
    step = path[-1]
    if isinstance(holder, Sequence):
        index = _WIRE_ITEMS[step] if isinstance(step, str) else step
        if index < len(holder.items):
            del holder.items[index]
        return
    if not isinstance(holder, Mapping):
        return
    name = str(step) if step in holder.entries else _TWINS.get(str(step), "")
    instead = _stand_in(path, holder)
    if instead is not None:
        holder.entries[str(step)] = Scalar(instead, holder.line, holder.column)
        holder.keys.setdefault(str(step), Scalar(str(step), holder.line, holder.column))
        return
    holder.entries.pop(name, None)
    holder.keys.pop(name, None)


def _stand_in(path: Path, holder: Mapping) -> str | None:
    if path[-1] == "full_scale":
        return "1 A" if "current" in holder.entries else "1 V"
    is_kind = path[-1] in KINDS and path[-3:-2] == ("parts",)
    is_top = len(path) == 1 and path[0] in ("rewire", "title")
    return _STAND_INS.get(str(path[-1])) if is_kind or is_top else None


def _report(tree: Mapping, wrong: _Wrong, report: Report) -> None:
    message, hint = _said(wrong)
    node, key = node_at(tree, wrong.path)
    at: Node = node
    if key is not None and (wrong.type == "extra_forbidden" or wrong.where[-1] == _KEY_MARK):
        at = key
        if isinstance(node, Scalar) and node.bare and wrong.type == "extra_forbidden":
            message, hint = _after_comma(tree, wrong.path, message)
    elif wrong.type == "missing" and key is not None:
        at = key
    elif isinstance(node, Scalar) and node.bare and node.cut:
        hint = "' #' begins a comment: put the text in quotes"
    report.fault(report.place(at.line, at.column), _in_context(wrong, message), hint)


def _after_comma(tree: Mapping, path: Path, message: str) -> tuple[str, str]:
    """What a comma tore off inside {…}: the rest of a number, or of a text."""
    holder, key = child(tree, *path[:-1]), str(path[-1])
    if isinstance(holder, Mapping):
        names = list(holder.entries)
        before = holder.entries[names[max(names.index(key) - 1, 0)]]
        if isinstance(before, Scalar) and re.fullmatch(r"[-+]?[0-9]+", before.text):
            number = f"{before.text},{key}"
            if re.match(r"[0-9]", key):
                return f"{shown(number)} has a comma in the number", without_comma(number)
    return message, "a comma inside a text begins a new key: put the text in quotes"


def _in_context(wrong: _Wrong, message: str) -> str:
    """Say which key it is about, where the message does not."""
    path = wrong.path
    if wrong.type in ("missing", "extra_forbidden") or wrong.where[-1] == _KEY_MARK:
        return message
    keys = [step for step in path if isinstance(step, str)]
    return f"{keys[-1]}: {message}" if keys else message


def _said(wrong: _Wrong) -> tuple[str, Hint]:
    last = wrong.path[-1] if wrong.path else ""
    if wrong.type == "said":
        return str(wrong.context["said"]), wrong.context["hint"]
    if wrong.type == "missing":
        return f"'{last}' is missing", None
    if wrong.type == "extra_forbidden":
        return f"unknown key {shown(last)}", Nearest(str(last), _fields(wrong.where[:-1]))
    if wrong.type == "literal_error":
        return "this word is not known here", f"write {wrong.context['expected']}"
    return _WORDING.get(wrong.type, f"not what is needed here ({wrong.type})"), None


_WORDING = {
    "string_type": "a text is needed, not a list or mapping",
    "string_too_short": "no value stands here",
    "dict_type": "a mapping is needed (key: value)",
    "model_type": "a mapping is needed (key: value)",
    "model_attributes_type": "a mapping is needed (key: value)",
    "list_type": "a list is needed",
    "tuple_type": "a list is needed",
    "too_short": "too few items in this list",
    "too_long": "too many items in this list",
}


def _fields(where: Path) -> list[str]:
    """The keys that the model at a place knows."""
    model: Any = WrittenSpec
    for step in where:
        model = _inside(model, step)
    return [field.alias or name for name, field in _bare(model).model_fields.items()]


def _inside(annotation: Any, step: str | int) -> Any:
    if isinstance(step, str) and _is_tag(step) and step[1:-1] in KINDS:
        return KINDS[step[1:-1]]
    kind = _bare(annotation)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        named = {field.alias or name: field for name, field in kind.model_fields.items()}
        return named[str(step)].annotation
    return typing.get_args(kind)[-1]


def _bare(annotation: Any) -> Any:
    """Without Annotated and without 'or None'."""
    if typing.get_origin(annotation) is typing.Annotated:
        return _bare(typing.get_args(annotation)[0])
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return _bare(typing.get_args(annotation)[0])
    return annotation
