"""Reading a buzz-out: which lugs of an unknown switch read closed, detent by detent.

    rewire_switch: 1
    title: from the box of spares
    lugs: [1, 2, 3, 4, 5, 6]
    detents:                     # in order of travel, clockwise from the front
      up: [[1, 2], [4, 5]]       # groups, or pairs as they were buzzed; pairs that share a
      down: [[2, 3], [5, 6]]     # lug are one group
    timing: unknown              # optional, as are rating, style, mount and note
    open: {up: [[1, 3]]}         # optional: pairs that were touched and read open
    between: [[[1, 2, 3]]]       # optional: what read closed with the knob held between two
                                 # detents, one list for each step

``detents`` may also be a list of such lists; the detents are called 1, 2, 3 … then. Without
``open``, every pair that is not listed is taken to have been touched and to be open.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from pathlib import Path
from typing import Annotated, Any, Literal, cast, get_args

from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import At, Read, Reader, keys_of, makes
from rewire.reading.names import check_lugs, refuse_look_alikes
from rewire.reading.switches import linked, sections_of_table
from rewire.reading.text import (
    Mapping,
    Node,
    Scalar,
    Sequence as Listed,
    bytes_of,
    is_nothing,
    marked_tree,
    plain,
)
from rewire.records.keys import ANYTHING, TEXT, Key, ValueKind, WrittenAs, word
from rewire.records.mount import SwitchMount
from rewire.records.part import Place, Section, Style, Timing
from rewire.records.switches import Groups, Switch, SwitchRating
from rewire.words.wording import Wrong, shown, two_in_one

_MOST_CONTACTS = 200_000


def _lug_names(value: Any) -> list[str]:
    if isinstance(value, list) and value and all(isinstance(name, str) for name in value):
        return value
    hint = "write lugs: [1, 2, 3] with a name for each lug of the switch"
    raise Wrong("a list of lugs is needed", hint)


@dataclass(frozen=True, slots=True)
class Buzzout:
    """What was buzzed on one switch. Detents in order of travel."""

    WRITTEN = WrittenAs(
        more={
            "rewire_switch": Key(ANYTHING),
            "detents": Key(ANYTHING),
            "open": Key(ANYTHING, default=None),
            "between": Key(ANYTHING, default=None),
        }
    )
    file: str
    lugs: Annotated[tuple[str, ...], Key(ValueKind(_lug_names, {}))]
    detents: tuple[str, ...]
    closed: tuple[Groups, ...]
    """Per detent the groups of lugs that read closed: two lugs or more, disjoint, in lug order."""
    title: Annotated[str | None, Key(TEXT, default=None)]
    note: Annotated[str | None, Key(TEXT, default=None)]
    timing: Annotated[Timing | None, Key(word(*get_args(Timing)), default=None)]
    """Of all its sections; None where it is not stated."""
    style: Annotated[Style | None, Key(word(*get_args(Style)), default=None)]
    rating: Annotated[SwitchRating, Key(SwitchRating, default=SwitchRating())]
    place: Place
    touched: tuple[Groups, ...] = ()
    """Per detent the groups as they were written, before those that share a lug were joined."""
    opened: tuple[Groups, ...] | None = None
    """Per detent the groups no two lugs of which read closed; None where none are listed."""
    halfway: tuple[Groups, ...] | None = None
    """Per step from detent to detent the groups that read closed in between."""
    mount: Annotated[SwitchMount | None, Key(SwitchMount)] = None


@dataclass(frozen=True, slots=True)
class HalfWay:
    """Two lugs closed with the knob between two detents that neither detent connects."""

    detents: tuple[str, str]
    pair: tuple[str, str]

    @property
    def said(self) -> str:
        """What is wrong, and what to do."""
        one, other = self.pair
        first, then = self.detents
        return (
            f"lug {one} reads closed on {other} half way from {first} to {then}, which neither "
            "connects: read again; if it stays so, they short while the knob turns"
        )


def shorted_half_way(buzzout: Buzzout) -> tuple[HalfWay, ...]:
    """What is closed between two detents and cannot follow from them; no timing describes it."""
    found = []
    for step, halfway in enumerate(buzzout.halfway or ()):
        nets = linked(buzzout.lugs, buzzout.closed[step : step + 2])
        net_of = {lug: number for number, net in enumerate(nets) for lug in net}
        for group in halfway:
            ends = {net_of.get(lug, lug): lug for lug in reversed(group)}
            first, *others = sorted(ends.values(), key=buzzout.lugs.index)
            detents = buzzout.detents[step], buzzout.detents[step + 1]
            found += [HalfWay(detents, (first, other)) for other in others]
    return tuple(found)


def read_buzzout(path: str | Path) -> Buzzout:
    """Read and check a buzz-out file.

    Raises:
        SpecError: it cannot be read, or something in it is wrong; all that is wrong at once.
    """
    return read_buzzout_text(bytes_of(path, "the buzz-out"), str(path))


def read_buzzout_text(data: bytes, file: str = "<text>") -> Buzzout:
    """Read and check a buzz-out that is already in memory.

    Args:
        data: the bytes of a file, UTF-8.
        file: its name, for messages.

    Raises:
        SpecError: something in it is wrong; all that is wrong at once.
    """
    report = Report(file)
    tree = marked_tree(data, report, "rewire_switch", "a buzz-out of a switch")
    buzzout = keys_of(Buzzout).take(tree, At(), Reader(report))
    if report:
        raise report.error()
    return cast(Buzzout, buzzout)


def switch_of(buzzout: Buzzout, name: str) -> Switch:
    """The switch that was buzzed, under a name of its own and a control of that name.

    Its form is ``table``. Its timing is what was read between detents, else what is stated, else
    left open (``timing_stated``).
    """
    pieces = linked(buzzout.lugs, buzzout.closed)
    sections = tuple(_timed(buzzout, one) for one in sections_of_table(pieces, buzzout.closed, {}))
    used = {lug for section in sections for lug in section.lugs}
    return Switch(
        name=name,
        terminals=buzzout.lugs,
        place=buzzout.place,
        note=buzzout.note,
        form="table",
        control=name,
        sections=sections,
        idle_lugs=tuple(lug for lug in buzzout.lugs if lug not in used),
        throws=None,
        throw_at=None,
        poles=(),
        style=buzzout.style,
        layout=None,
        rating=buzzout.rating,
        contact_resistance=None,
        mount=buzzout.mount,
    )


def _timed(buzzout: Buzzout, section: Section) -> Section:
    if buzzout.halfway is None and buzzout.timing is None:
        return section
    timing = timing_of(buzzout, section)
    return replace(section, timing="unknown" if timing == "mixed" else timing, timing_stated=True)


def timing_of(buzzout: Buzzout, section: Section) -> Timing | Literal["mixed"]:
    """From what read closed between detents; as stated where nothing was read there."""
    if buzzout.halfway is None:
        return buzzout.timing or "unknown"
    told: set[str] = set()
    for step, halfway in enumerate(buzzout.halfway):
        before, after = _ties(section.groups[step]), _ties(section.groups[step + 1])
        between = _ties(halfway) & _all_pairs(section)
        if before == after:
            told |= set() if between >= before else {"mixed"}
        elif between == before & after:
            told.add("non-shorting")
        elif between >= before | after:
            told.add("shorting")
        else:
            told.add("mixed")
    if not told:
        return buzzout.timing or "unknown"
    if told == {"shorting"}:
        return "shorting"
    return "non-shorting" if told == {"non-shorting"} else "mixed"


def _ties(groups: Groups) -> set[frozenset[str]]:
    return {frozenset(pair) for group in groups for pair in combinations(group, 2)}


def _all_pairs(section: Section) -> set[frozenset[str]]:
    return {frozenset(pair) for pair in combinations(section.lugs, 2)}


@makes(Buzzout)
def _buzzout(read: Read, reader: Reader) -> Any:
    """All of it; good only if the report has no faults afterwards."""
    lugs = tuple(dict.fromkeys(read.lugs))
    check_lugs(read.lugs, read.near("lugs").place, reader.report)
    named = _named_detents(read, lugs, reader)
    detents = tuple(name for name, _ in named)
    groups = [list(_groups(name, node, lugs, reader)) for name, node in named]
    return read.record(
        file=reader.report.file,
        lugs=lugs,
        detents=detents,
        closed=tuple(_merged(lugs, one) for one in groups),
        touched=tuple(tuple(map(tuple, one)) for one in groups),
        opened=_opened(read, detents, lugs, reader),
        halfway=_halfway(read, detents, lugs, reader),
    )


def _named_detents(read: Read, lugs: tuple[str, ...], reader: Reader) -> list[tuple[str, Node]]:
    node = read.near("detents")
    named: list[tuple[str, Node]] = []
    if isinstance(node, Mapping):
        named = list(node.entries.items())
        places = ((key, at.place) for key, at in node.keys.items())
        refuse_look_alikes(places, "detents", reader.report)
    elif isinstance(node, Listed):
        named = [(str(number), item) for number, item in enumerate(node.items, 1)]
    if len(named) >= 2 and len(named) * len(lugs) <= _MOST_CONTACTS:
        return named
    few = "two detents or more are needed, each with the groups that read closed"
    many = f"over {_MOST_CONTACTS} lugs times detents"
    hint = "write detents: {1: [[A, B]], 2: [[A, C]]}, in order of travel"
    reader.fault(node, few if len(named) < 2 else many, hint)
    return []


def _opened(
    read: Read, detents: Sequence[str], lugs: tuple[str, ...], reader: Reader
) -> tuple[Groups, ...] | None:
    node = read.entries.get("open")
    if node is None or is_nothing(node):
        return None
    if not isinstance(node, Mapping):
        message = "open: detents and their pairs are needed"
        reader.fault(node, message, "write {1: [[A, B]]}")
        return None
    for name, at in node.keys.items():
        if name not in detents:
            reader.fault(at, f"open: no detent {shown(name)}", Nearest(name, detents))
    nothing = Scalar("", node.place)
    each = ((name, node.entries.get(name, nothing)) for name in detents)
    return tuple(tuple(map(tuple, _groups(*one, lugs, reader))) for one in each)


def _halfway(
    read: Read, detents: Sequence[str], lugs: tuple[str, ...], reader: Reader
) -> tuple[Groups, ...] | None:
    node = read.entries.get("between")
    if node is None or is_nothing(node):
        return None
    items = node.items if isinstance(node, Listed) else []
    if len(items) != max(0, len(detents) - 1):
        count = max(0, len(detents) - 1)
        message = f"between: a list for each step from detent to detent is needed, {count} in all"
        nothing = f"[{', '.join(['[]'] * count)}]"
        reader.fault(node, message, f"write {nothing} where nothing is closed")
        return None
    steps = [f"{a} to {b}" for a, b in pairwise(detents)]
    each = (_groups(step, item, lugs, reader) for step, item in zip(steps, items, strict=True))
    return tuple(_merged(lugs, list(one)) for one in each)


def _groups(detent: str, node: Node, lugs: tuple[str, ...], reader: Reader) -> Iterator[list[str]]:
    if is_nothing(node):
        return
    said = f"detent {shown(detent)}"
    if not isinstance(node, Listed):
        hint = "write [[A, B], [C, D]], or [] where nothing is closed"
        reader.fault(node, f"{said}: a list of groups of lugs is needed", hint)
        return
    known = frozenset(lugs)
    for item in node.items:
        group = plain(item)
        if not isinstance(group, list) or not all(isinstance(lug, str) for lug in group):
            reader.fault(item, f"{said}: a group of lugs is needed", "write [A, B]")
        elif len(group) == 1 and (forgotten := two_in_one(group[0])):
            reader.fault(item, *forgotten)
        elif len(set(group)) < 2:
            hint = "leave it out: what is not listed closes nothing"
            reader.fault(item, f"{said}: a group of one lug", hint)
        else:
            unknown = [lug for lug in group if lug not in known] if known else []
            for lug in unknown:
                reader.fault(item, f"{said}: there is no lug {shown(lug)}", Nearest(lug, lugs))
            if not unknown:
                yield group


def _merged(lugs: Sequence[str], groups: Sequence[Sequence[str]]) -> Groups:
    """Groups that share a lug are one; lugs in the order of the list."""
    if not lugs or any(lug not in lugs for group in groups for lug in group):
        return ()
    return tuple(tuple(piece) for piece in linked(lugs, [tuple(map(tuple, groups))]))
