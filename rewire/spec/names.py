"""Who is called what: points, parts, lugs, controls; and what a wrong name was meant to be."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rewire.spec.fields import LUG
from rewire.spec.model import Control, Partial, Place
from rewire.spec.report import Hint, Nearest, Report, shown
from rewire.spec.shape import Path, node_at
from rewire.spec.text import Node

_MANY = 1000
_is_lug = re.compile(LUG).fullmatch


@dataclass(slots=True)
class Desk:
    """What lies on the desk while a file is checked: its faults, controls and what was cut out."""

    report: Report
    broken: set[Path]
    controls: dict[str, Control] = field(default_factory=dict)

    def place(self, node: Node, *path: str | int) -> Place:
        """Where the value at a path below a node stands."""
        found, _ = node_at(node, path)
        return self.report.place(found.line, found.column)

    def key_place(self, node: Node, *path: str | int) -> Place:
        """Where the key at a path below a node stands."""
        found, key = node_at(node, path)
        at = key or found
        return self.report.place(at.line, at.column)

    def is_broken(self, *path: str | int) -> bool:
        """Whether something at this path, or around it, was cut out as malformed."""
        return any(path[:length] in self.broken for length in range(1, len(path) + 1))

    def broken_in(self, *path: str | int) -> set[str]:
        """Names of what was cut out right below a path."""
        length = len(path)
        cuts = (cut for cut in self.broken if len(cut) == length + 1 and cut[:length] == path)
        return {str(cut[-1]) for cut in cuts}


@dataclass(slots=True)
class Scope:
    """The names that can be used in one place of a file.

    ``lugs`` maps a part to its lugs, None where they are not known because the part
    is malformed; ``vague`` says that some parts are not known at all.
    """

    said: str
    points: set[str]
    lugs: dict[str, tuple[str, ...] | None]
    vague: bool = False
    terminals: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """List every name that is good."""
        self.terminals |= self.points
        for part, lugs in self.lugs.items():
            self.terminals.update(f"{part}.{lug}" for lug in lugs or ())

    def check(self, name: str, place: Place, report: Report) -> bool:
        """Whether a point or a terminal exists; a fault with a way out if not."""
        if name in self.terminals:
            return True
        part, dot, lug = name.partition(".")
        if self.vague or (part in self.lugs and self.lugs[part] is None):
            return False
        if not dot:
            report.fault(place, *self._no_point(name))
        elif part not in self.lugs:
            among = self.lugs if len(self.terminals) > _MANY else self.terminals
            word = part if len(self.terminals) > _MANY else name
            report.fault(place, f"no part {shown(part)} {self.said}", Nearest(word, among))
        else:
            own = [f"{part}.{own}" for own in self.lugs[part] or ()]
            report.fault(place, f"{shown(part)} has no lug {shown(lug)}", Nearest(name, own))
        return False

    def _no_point(self, name: str) -> tuple[str, Hint]:
        lugs = self.lugs.get(name)
        if lugs:
            return f"{shown(name)} is a part, not a terminal", f"write {name}.{lugs[0]} or the like"
        among = self.points if len(self.terminals) > _MANY else self.terminals
        return f"no point {shown(name)}", Nearest(name, among)


def refuse_look_alikes(
    names: Iterable[tuple[str, Place]],
    what: str,
    report: Report,
    seen: dict[str, str] | None = None,
) -> None:
    """Fault every name that differs from an earlier one in case alone."""
    first = {} if seen is None else seen
    for name, place in names:
        known = first.setdefault(name.casefold(), name)
        if known != name:
            message = f"{what} {shown(name)} and {shown(known)} differ in case alone"
            report.fault(place, message, "choose another name for one of them")


def check_lugs(lugs: Iterable[str], place: Place, report: Report) -> None:
    """Fault every lug whose name cannot be, or stands twice, or differs in case alone."""
    seen: dict[str, str] = {}
    for lug in lugs:
        known = seen.get(lug.casefold())
        if _is_lug(lug) is None:
            hint = "a lug's name has letters, digits, _, + and - only"
            report.fault(place, f"{shown(lug)} cannot be a lug", hint)
        elif known == lug:
            report.fault(place, f"lug {shown(lug)} stands twice", "each lug needs its own name")
        refuse_look_alikes([(lug, place)], "lugs", report, seen)


def check_when(when: Mapping[str, tuple[str, ...]], node: Node, desk: Desk) -> Partial:
    """The known controls and positions of a ``when``; faults for the others.

    Args:
        when: control → positions.
        node: the mapping it was written as.
        desk: has the controls.
    """
    good: dict[str, tuple[str, ...]] = {}
    for control, positions in when.items():
        place = desk.key_place(node, control)
        if not check_control(control, place, desk):
            continue
        value_place = desk.place(node, control)
        known = [p for p in positions if check_position(control, p, value_place, desk)]
        good[control] = tuple(known)
    return good


def check_control(name: str, place: Place, desk: Desk) -> bool:
    """Whether there is such a control."""
    if name in desk.controls:
        return True
    if not desk.is_broken("controls", name):
        hint: Hint = Nearest(name, desk.controls)
        if not desk.controls:
            hint = f"list it under controls: {{{name}: [ONE, OTHER]}}"
        desk.report.fault(place, f"no control {shown(name)}", hint)
    return False


def check_position(control: str, position: str, place: Place, desk: Desk) -> bool:
    """Whether a control has such a position."""
    positions = desk.controls[control].positions
    if position in positions:
        return True
    message = f"control {shown(control)} has no position {shown(position)}"
    desk.report.fault(place, message, Nearest(position, positions))
    return False
