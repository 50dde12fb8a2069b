"""Reading a buzz-out: which lugs of an unknown switch read closed, detent by detent.

    rewire_switch: 1
    title: from the box of spares
    lugs: [1, 2, 3, 4, 5, 6]
    detents:                     # in order of travel, clockwise from the front
      up: [[1, 2], [4, 5]]       # groups, or pairs as they were buzzed; pairs that share a
      down: [[2, 3], [5, 6]]     # lug are one group
    timing: unknown              # optional, as are rating, style and note
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
from typing import Literal, cast, get_args

from rewire.reading.faults import Nearest, Report
from rewire.reading.forms import BAD, Reader
from rewire.reading.load import bytes_of, is_marked, whole_tree_of
from rewire.reading.names import check_lugs, refuse_look_alikes
from rewire.reading.parts import RATING
from rewire.reading.text import Mapping, Node, Scalar, Sequence as Listed, plain
from rewire.records.spec import Place, Section, Style, Switch, SwitchRating, Timing
from rewire.records.switches import Groups, linked, sections_of_table
from rewire.words.wording import shown

_TOP = (
    "rewire_switch", "title", "note", "lugs", "detents", "timing", "rating", "style", "open",
    "between",
)  # fmt: skip
_MOST_CONTACTS = 200_000


@dataclass(frozen=True, slots=True)
class Buzzout:
    """What was buzzed on one switch. Detents in order of travel."""

    file: str
    lugs: tuple[str, ...]
    detents: tuple[str, ...]
    closed: tuple[Groups, ...]
    """Per detent the groups of lugs that read closed: two lugs or more, disjoint, in lug order."""
    title: str | None
    note: str | None
    timing: Timing | None
    """Of all its sections; None where it is not stated."""
    style: Style | None
    rating: SwitchRating
    place: Place
    touched: tuple[Groups, ...] = ()
    """Per detent the groups as they were written, before those that share a lug were joined."""
    opened: tuple[Groups, ...] | None = None
    """Per detent the groups no two lugs of which read closed; None where none are listed."""
    halfway: tuple[Groups, ...] | None = None
    """Per step from detent to detent the groups that read closed in between."""


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
    tree = whole_tree_of(data, report, "rewire_switch: 1")
    buzzout = _Reader(tree, report).buzzout()
    if report:
        raise report.error()
    return buzzout


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
    told = set()
    for step, halfway in enumerate(buzzout.halfway):
        before, after = _ties(section.groups[step]), _ties(section.groups[step + 1])
        between = _ties(halfway) & _all_pairs(section)
        if before == after:
            continue
        if between == before & after:
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


@dataclass(slots=True)
class _Reader:
    tree: Mapping
    report: Report

    def buzzout(self) -> Buzzout:
        """All of it; good only if the report has no faults afterwards."""
        self._head()
        lugs = self._lugs()
        detents, groups = self._detents(lugs)
        timing = self._word("timing", get_args(Timing))
        style = self._word("style", get_args(Style))
        return Buzzout(
            file=self.report.file,
            lugs=lugs,
            detents=detents,
            closed=tuple(_merged(lugs, one) for one in groups),
            title=self._text("title"),
            note=self._text("note"),
            timing=cast("Timing | None", timing),
            style=cast("Style | None", style),
            rating=self._rating(),
            place=self._at(self.tree),
            touched=tuple(tuple(map(tuple, one)) for one in groups),
            opened=self._opened(detents, lugs),
            halfway=self._halfway(detents, lugs),
        )

    def _opened(self, detents: Sequence[str], lugs: tuple[str, ...]) -> tuple[Groups, ...] | None:
        node = self.tree.entries.get("open")
        if node is None or (isinstance(node, Scalar) and node.bare):
            return None
        if not isinstance(node, Mapping):
            self._fault(node, "open: detents and their pairs are needed", "write {1: [[A, B]]}")
            return None
        for name, at in node.keys.items():
            if name not in detents:
                self._fault(at, f"open: no detent {shown(name)}", Nearest(name, detents))
        known = frozenset(lugs)
        return tuple(
            tuple(map(tuple, self._groups(name, node.entries[name], known)))
            if name in node.entries
            else ()
            for name in detents
        )

    def _halfway(self, detents: Sequence[str], lugs: tuple[str, ...]) -> tuple[Groups, ...] | None:
        node = self.tree.entries.get("between")
        if node is None or (isinstance(node, Scalar) and node.bare):
            return None
        items = node.items if isinstance(node, Listed) else []
        if len(items) != max(0, len(detents) - 1):
            message = f"between: one list for each of {len(detents) - 1} steps is needed"
            self._fault(node, message, "write [] for a step in which nothing is closed")
            return None
        known = frozenset(lugs)
        steps = [f"{a} to {b}" for a, b in pairwise(detents)]
        each = (self._groups(step, item, known) for step, item in zip(steps, items, strict=True))
        return tuple(_merged(lugs, list(one)) for one in each)

    def _at(self, node: Node) -> Place:
        return self.report.place(node.line, node.column)

    def _fault(self, node: Node, message: str, hint: str | Nearest | None = None) -> None:
        self.report.fault(self._at(node), message, hint)

    def _head(self) -> None:
        what = "a buzz-out of a switch"
        if not is_marked(self.tree, self.report, "rewire_switch", what):
            return
        for key, at in self.tree.keys.items():
            if key not in _TOP:
                self._fault(at, f"unknown key {shown(key)}", Nearest(key, _TOP))

    def _text(self, key: str) -> str | None:
        node = self.tree.entries.get(key)
        if node is None or (isinstance(node, Scalar) and node.bare):
            return None
        if isinstance(node, Scalar):
            return node.text
        self._fault(node, f"{key}: a text is needed", "put text in quotes")
        return None

    def _word(self, key: str, known: Sequence[str]) -> str | None:
        text = self._text(key)
        if text is None or text.strip() in known:
            return None if text is None else text.strip()
        message = f"{key}: {shown(text)} is not known here"
        self._fault(self.tree.entries[key], message, f"write one of {', '.join(known)}")
        return None

    def _lugs(self) -> tuple[str, ...]:
        node = self.tree.entries.get("lugs")
        names = plain(node) if isinstance(node, Listed) else None
        if node is None or not names or not all(isinstance(name, str) for name in names):
            hint = "write lugs: [1, 2, 3] with a name for each lug of the switch"
            self._fault(node or self.tree, "a list of lugs is needed", hint)
            return ()
        check_lugs(names, self._at(node), self.report)
        return tuple(dict.fromkeys(names))

    def _detents(self, lugs: tuple[str, ...]) -> tuple[tuple[str, ...], list[list[list[str]]]]:
        node = self.tree.entries.get("detents")
        hint = "write detents: {1: [[A, B]], 2: [[A, C]]}, in order of travel"
        named: list[tuple[str, Node]] = []
        if isinstance(node, Mapping):
            named = list(node.entries.items())
            refuse_look_alikes(
                ((key, self._at(at)) for key, at in node.keys.items()), "detents", self.report
            )
        elif isinstance(node, Listed):
            named = [(str(number), item) for number, item in enumerate(node.items, 1)]
        if len(named) < 2 or len(named) * len(lugs) > _MOST_CONTACTS:
            few = "two detents or more are needed, each with the groups that read closed"
            many = f"over {_MOST_CONTACTS} lugs times detents"
            self._fault(node or self.tree, few if len(named) < 2 else many, hint)
            return (), []
        known = frozenset(lugs)
        groups = [list(self._groups(name, item, known)) for name, item in named]
        return tuple(name for name, _ in named), groups

    def _groups(self, detent: str, node: Node, lugs: frozenset[str]) -> Iterator[list[str]]:
        if isinstance(node, Scalar) and node.bare:
            return
        if not isinstance(node, Listed):
            hint = "write [[A, B], [C, D]], or [] where nothing is closed"
            self._fault(node, f"detent {shown(detent)}: a list of groups of lugs is needed", hint)
            return
        for item in node.items:
            group = plain(item)
            if not isinstance(group, list) or not all(isinstance(lug, str) for lug in group):
                message = f"detent {shown(detent)}: a group of lugs is needed"
                self._fault(item, message, "write [A, B]")
            elif self._is_group(detent, item, group, lugs):
                yield group

    def _is_group(self, detent: str, node: Node, group: list[str], lugs: frozenset[str]) -> bool:
        if len(set(group)) < 2:
            hint = "leave it out: what is not listed closes nothing"
            self._fault(node, f"detent {shown(detent)}: a group of one lug", hint)
            return False
        unknown = [lug for lug in group if lug not in lugs] if lugs else []
        for lug in unknown:
            message = f"detent {shown(detent)}: there is no lug {shown(lug)}"
            self._fault(node, message, Nearest(lug, lugs))
        return not unknown

    def _rating(self) -> SwitchRating:
        node = self.tree.entries.get("rating")
        if node is None or (isinstance(node, Scalar) and node.bare):
            return SwitchRating()
        read = RATING.take(node, (None, "rating", self.tree.keys["rating"]), Reader(self.report))
        return SwitchRating() if read is BAD else cast(SwitchRating, read)


def _merged(lugs: Sequence[str], groups: Sequence[Sequence[str]]) -> Groups:
    """Groups that share a lug are one; lugs in the order of the list."""
    if not lugs or any(lug not in lugs for group in groups for lug in group):
        return ()
    return tuple(tuple(piece) for piece in linked(lugs, [tuple(map(tuple, groups))]))
