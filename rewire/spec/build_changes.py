"""Differences that are meant: do the parts and anchors that they name exist?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import cast

from rewire.spec.format import CHANGES, OF_PARTS
from rewire.spec.forms import Read
from rewire.spec.model import Change, ChangeKind, Part, Place, Strip, Switch
from rewire.spec.names import Desk, Scope, check_when
from rewire.spec.report import Nearest, shown
from rewire.spec.text import child

_ADDED = ("insert", "link")


@dataclass(frozen=True, slots=True)
class Original:
    """What the original has to name."""

    scope: Scope
    top: Mapping[str, Part]
    """Parts that stay in every wiring."""
    own: Mapping[str, Part]
    """Parts of the original only."""

    def part(self, name: str) -> Part | None:
        """A part of the original, staying or not."""
        return self.own.get(name) or self.top.get(name)


def build_changes(
    read: Iterable[Read], original: Original, own: Scope, desk: Desk
) -> tuple[Change, ...]:
    """The differences that are meant.

    Args:
        read: what is written of each.
        original: what can be named as an anchor, removed or reversed.
        own: the names of the wiring that has the changes.
        desk: has the controls, receives the faults.
    """
    return tuple(_change(one, original, own, desk) for one in read)


def _change(one: Read, original: Original, own: Scope, desk: Desk) -> Change:
    node = one.node
    kind = next(key for key in CHANGES if getattr(one, key) is not None)
    value: tuple[str, ...] = getattr(one, kind)
    parts = value if kind in OF_PARTS else ()
    for index, part in enumerate(parts):
        place = desk.place(node, kind, index)
        if kind in _ADDED:
            _check_added(part, place, original, own, desk)
        elif kind == "remove":
            _check_removed(part, place, original, desk)
        else:
            _check_reversed(part, place, original, desk)
    anchor_key = "between" if kind in _ADDED else kind
    anchors = (one.between or ()) if kind in OF_PARTS else value
    for index, anchor in enumerate(anchors):
        check_anchor(anchor, desk.place(node, anchor_key, index), original, desk)
    return Change(
        kind=cast(ChangeKind, kind),
        parts=parts,
        anchors=anchors,
        when=check_when(one.when, child(node, "when"), desk),
        why=one.why,
        reversible=one.reversible,
        place=desk.report.place(node.line, node.column),
    )


def check_anchor(name: str, place: Place, original: Original, desk: Desk) -> None:
    """Whether a name can be an anchor: a point, or a terminal of the original that is no lug."""
    if not original.scope.check(name, place, desk.report):
        return
    part = original.part(name.partition(".")[0])
    if "." in name and isinstance(part, Switch | Strip):
        hint = "name a point, or a terminal of another part, that it is wired to"
        message = f"{shown(name)} is a lug of a {part.kind}, which another wiring need not have"
        desk.report.fault(place, message, hint)


def _check_added(name: str, place: Place, original: Original, own: Scope, desk: Desk) -> None:
    if name in original.top:
        message = f"{shown(name)} stays in every wiring: it is not added here"
        desk.report.fault(place, message)
    elif not own.has_part(name) and not own.vague:
        parts = [part for part in own.parts() if part not in original.top]
        desk.report.fault(place, f"no part {shown(name)} in this wiring", Nearest(name, parts))


def _check_removed(name: str, place: Place, original: Original, desk: Desk) -> None:
    if name in original.top:
        message = f"{shown(name)} stays in every wiring and cannot be removed"
        desk.report.fault(place, message, "list it under the original's parts instead")
        return
    _check_in_original(name, place, original, desk)


def _check_reversed(name: str, place: Place, original: Original, desk: Desk) -> None:
    part = original.part(name)
    if part is not None and (len(part.terminals) != 2 or isinstance(part, Switch | Strip)):
        message = f"{shown(name)} is a {part.kind}: it has no two ends to turn"
        desk.report.fault(place, message)
        return
    _check_in_original(name, place, original, desk)


def _check_in_original(name: str, place: Place, original: Original, desk: Desk) -> None:
    scope = original.scope
    if not scope.has_part(name) and not scope.vague:
        desk.report.fault(
            place, f"no part {shown(name)} in the original", Nearest(name, scope.parts)
        )
