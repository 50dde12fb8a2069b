"""The netlist that can be read from a drawing: lines, dots, symbols and the names beside them.

It reads as a person does who knows which parts and points there are. Terminals are called in full,
``S1.A2``; the ends of a part that may be turned round are both called by the part alone.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations, pairwise
from typing import Any

import numpy as np
from scipy.optimize import linear_sum_assignment

from rewire.draw.leads import SHADES
from rewire.draw.scene import XY, Box, enters
from tests.draw.drawing import Drawing, Shape, Stroke, Word, away, drawing_of, from_line, from_piece
from tests.reference.circuit import YES, Circuit, components, kind_of, lugs_of, read_circuit

MEETS = 0.3
"""Closer than this things meet for the eye, mm."""
_BESIDE = 12.0
"""A name stands no farther from what it names, mm."""
_FROM_BODY = 40.0
"""The same for a body, which is large, mm."""
_FAR = 1e6
_GOES_ON = re.compile(r"\S+ to \S")
_ENDS_AT = re.compile(r"to (\S+)( .*)?")
"""Beside the end of a line: what it is joined to, which stands elsewhere."""
MARK = 5.0
"""The sign at the end of a pot's track stands no farther from the pot, mm."""
_BODY = 7.0
"""A closed outline at least so wide and high is no lug; lugs may sit on it, mm."""
TURNS = ("resistor", "capacitor", "choke", "lamp", "fuse")
"""Kinds whose ends may be turned round."""
_LUGGED = ("switch", "meter", "pot", "strip")
_SOURCES = ("current", "current-up", "voltage")
_LEADS = (*TURNS, "diode", "diode-up", "meter", "polarised", "polarised-up", "rheostat", *_SOURCES)
_NO_TERMINALS = (
    *_LEADS,
    "joint",
    "chassis",
    "gap",
    "blade",
    "pot",
    "swatch",
    "tag",
    "disc",
    "frame",
    "strike",
    "gang",
    "clip",
    "coil",
    "relay",
    "plug",
    "bushing",
    "number",
)

Node = tuple[str, int]
"""A line or a spot by its number."""
Ends = tuple[frozenset[str], frozenset[str]]
"""The terminals that a wire's ends stand on, and those that are joined at a dot at its end."""
Name = Callable[[Word], str | None]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What may be on the drawing: bare lugs of each part, points, ids of wires."""

    lugs: Mapping[str, tuple[str, ...]]
    turns: frozenset[str]
    """Parts whose ends may be turned round."""
    bodies: frozenset[str]
    """Parts that are drawn with their lugs: switches, meters, pots, strips."""
    points: frozenset[str]
    chassis: frozenset[str]
    wires: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    """Id → its two ends."""
    nets: Counter[tuple[str, ...]] = field(default_factory=Counter)
    """What must be joined, called as a drawing's nets are."""
    gone: frozenset[str] = frozenset()
    """Terminals of which nothing is asked."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a line may end on a terminal: a lug's outline, or the end of a lead."""

    terminal: str
    box: Box

    @property
    def at(self) -> XY:
        """Its middle."""
        return self.box.centre


@dataclass(frozen=True, slots=True)
class Read:
    """What a drawing says: nets of two terminals and more, and what cannot be read."""

    nets: Counter[tuple[str, ...]]
    terminals: Counter[str]
    """Terminal → in how many spots it is drawn."""
    wires: Mapping[str, Ends]
    """Wire → what stands at its ends, for wires that have their id beside them."""
    troubles: tuple[str, ...]


def read_back(svg: bytes | str, known: Vocabulary) -> Read:
    """The netlist of a finished SVG."""
    return read_drawing(drawing_of(svg), known)


def read_drawing(drawing: Drawing, known: Vocabulary) -> Read:
    """The netlist of a drawing."""
    spots, troubles = spots_of(drawing, known)
    dots = [s.box.centre for s in drawing.shapes if s.kind == "joint"]
    strokes = _once(drawing.strokes)
    joins, misread = joins_of(strokes, dots, spots, drawing.words)
    nodes: list[Node] = [("spot", n) for n in range(len(spots))]
    nodes += [("line", n) for n in range(len(strokes))]
    groups = components(nodes, [*joins, *by_name(spots, known.turns)])
    net_of = {node: number for number, group in enumerate(groups) for node in group}
    misread += (
        f"lines run along each other at {spot_said(at)}"
        for m, n, at in along(strokes) if net_of["line", m] != net_of["line", n]
    )  # fmt: skip
    misread += through_parts(strokes, drawing.shapes)
    misread += flags_astray(groups, spots)
    nets = Counter(net for group in groups if len(net := called(group, spots, known)) > 1)
    terminals = Counter(spot.terminal for spot in spots)

    def dotted(line: int, end: XY) -> frozenset[str]:
        if not any(math.dist(end, dot) < MEETS for dot in dots):
            return frozenset()
        return frozenset(called(groups[net_of["line", line]], spots, known))

    wires = wires_of(strokes, drawing.words, spots, dotted, known)
    return Read(nets, terminals, wires, (*troubles, *misread))


def called(group: Iterable[Node], spots: Sequence[Spot], known: Vocabulary) -> tuple[str, ...]:
    """The terminals of a net, sorted; an end that may be turned as often as it is there."""
    found = [spots[number].terminal for kind, number in group if kind == "spot"]
    found = [t for t in found if t not in known.gone and not t.startswith("(")]
    once = {terminal for terminal in found if terminal not in known.turns}
    return tuple(sorted([*once, *(terminal for terminal in found if terminal in known.turns)]))


def _once(strokes: Iterable[Stroke]) -> list[Stroke]:
    return list({s.points: s for s in strokes if len(set(s.points)) > 1}.values())


def vocabulary(
    spec: Mapping[str, Any], wiring: str, wires: Mapping[str, tuple[str, str]]
) -> Vocabulary:
    """The names and nets in a wiring of a plain spec, and the wires that have ids."""
    return named_in(spec, read_circuit(spec, wiring), wires)


def circuit_vocabulary(spec: Mapping[str, Any], wiring: str) -> Vocabulary:
    """The same for a drawing that leaves out strips, and lugs that no contact ever reaches."""
    circuit = read_circuit(spec, wiring)
    strips = {name for name, part in circuit.parts.items() if kind_of(part) == "strip"}
    closed = (group for s in circuit.sections for groups in s.closed.values() for group in groups)
    reached = {lug for group in closed for lug in group}
    lugs = {t for name, part in circuit.parts.items() if kind_of(part) == "switch"
            for t in circuit.terminals[name]}  # fmt: skip
    gone = (lugs - reached) | {t for name in strips for t in circuit.terminals[name]}
    circuit.nets = [net - gone for net in circuit.nets]
    circuit.parts = {name: part for name, part in circuit.parts.items() if name not in strips}
    return replace(named_in(spec, circuit, {}), gone=frozenset(gone))


def named_in(
    spec: Mapping[str, Any], circuit: Circuit, wires: Mapping[str, tuple[str, str]]
) -> Vocabulary:
    """The names and nets of a circuit."""
    points = spec.get("points", {})
    return Vocabulary(
        {name: tuple(lugs_of(part)) for name, part in circuit.parts.items()},
        frozenset(name for name, part in circuit.parts.items() if turns(part)),
        frozenset(name for name, part in circuit.parts.items() if kind_of(part) in _LUGGED),
        frozenset(points),
        frozenset(name for name, point in points.items() if point.get("chassis") in YES),
        wires,
        nets_meant(circuit),
    )


def turns(part: Mapping[str, Any]) -> bool:
    """Whether a part may be fitted either way round."""
    return kind_of(part) in TURNS and part.get("polarised") not in YES


def nets_meant(circuit: Circuit) -> Counter[tuple[str, ...]]:
    """The nets of a wiring by the tests' own reading of the spec."""
    turned = {
        terminal: name
        for name, part in circuit.parts.items() if turns(part)
        for terminal in circuit.terminals[name]
    }  # fmt: skip
    return Counter(
        tuple(sorted(turned.get(terminal, terminal) for terminal in net))
        for net in circuit.nets if len(net) > 1
    )  # fmt: skip


def disagreements(svg: bytes | str, known: Vocabulary) -> list[str]:
    """Where a drawing says something else than the wiring, net by net, or cannot be read.

    Wires that are known have their ids beside them and run between their own two ends.
    """
    read = read_back(svg, known)
    more, less = read.nets - known.nets, known.nets - read.nets
    return [
        *read.troubles,
        *wires_astray(read, known),
        *(f"drawn but not wired: {' '.join(net)}" for net in sorted(more.elements())),
        *(f"wired but not drawn: {' '.join(net)}" for net in sorted(less.elements())),
    ]


def wires_astray(read: Read, known: Vocabulary) -> Iterator[str]:
    """Wires that are not drawn, or between other ends than theirs."""
    turned = {f"{part}.{lug}": part for part in known.turns for lug in known.lugs[part]}
    for name, ends in known.wires.items():
        meant = frozenset(turned.get(end, end) for end in ends)
        on, over = read.wires.get(name, (frozenset(), frozenset()))
        if not on <= meant <= on | over:
            said = " ".join(sorted(on)) or "nothing"
            yield f"{name} is drawn at {said}, not at {' '.join(sorted(meant))}"


def by_name(spots: Sequence[Spot], turns: frozenset[str]) -> Iterator[list[Node]]:
    """A terminal or point that stands in several spots is still one."""
    found: dict[str, list[Node]] = {}
    for number, spot in enumerate(spots):
        if spot.terminal not in turns:
            found.setdefault(spot.terminal, []).append(("spot", number))
    yield from found.values()


def spots_of(drawing: Drawing, known: Vocabulary) -> tuple[list[Spot], list[str]]:
    """Every place where a line may end, by its terminal; and what has no name."""
    words = drawing.words
    two = [part for part, lugs in known.lugs.items() if len(lugs) == 2]
    three = known.lugs.keys() - set(two)
    spots: list[Spot] = []
    nameless: list[Shape] = []
    for kinds, name, at in (
        (_LEADS, first_of(two), partial(leads, words=words, known=known)),
        (("pot",), first_of(three), partial(pot_spots, words=words)),
    ):
        for shape, told in paired([s for s in drawing.shapes if stem(s) in kinds], words, name):
            nameless += [] if told else [shape]
            spots += at(shape, told) if told else []
    for shape, told in round_terminals(drawing, known):
        nameless += [] if told else [shape]
        spots += [Spot(terminal, shape.box) for terminal in told]
    for shape in drawing.shapes:
        if stem(shape) == "chassis":
            spots += [lead_end(name, shape.end("top")) for name in known.chassis]
    spots += flags_of(words, known)
    said = [f"{s.kind} at {spot_said(s.box.centre)} has no name" for s in nameless]
    return spots, said


def flags_of(words: Iterable[Word], known: Vocabulary) -> Iterator[Spot]:
    """``to X`` at the end of a line: it is joined to X; one end of a part that turns is told."""
    terminals = {f"{part}.{lug}": part for part, lugs in known.lugs.items() for lug in lugs}
    for word in words:
        told = _ENDS_AT.fullmatch(word.text)
        name = told[1] if told else ""
        if name in known.points or name in terminals:
            turned = terminals.get(name) in known.turns
            yield Spot(f"(to {terminals[name]})" if turned else name, word.box.grown(1.0))


def flags_astray(groups: Iterable[Iterable[Node]], spots: Sequence[Spot]) -> Iterator[str]:
    """Ends that say that they go to a part which is not joined to them."""
    for group in groups:
        own = {spots[number].terminal for kind, number in group if kind == "spot"}
        yield from (f"a line says {one}, which is on another net" for one in sorted(own)
                    if one.startswith("(to ") and one[4:-1] not in own)  # fmt: skip


def round_terminals(drawing: Drawing, known: Vocabulary) -> list[tuple[Shape, tuple[str, ...]]]:
    """Lugs, contacts and points with what they are; lugs side by side are drawn as one."""
    named = names_of(drawing, known)
    owner = owners(drawing, known, named)
    lug = lug_name(known)
    return [
        (shape, () if name is None
         else owner(shape, name) if lug(Word(name, shape.box)) else (name,))
        for shape, name in named
    ]  # fmt: skip


def names_of(drawing: Drawing, known: Vocabulary) -> list[tuple[Shape, str | None]]:
    """Lugs, contacts and points with their names: in them, else the nearest beside them."""
    bare, point = lug_name(known), first_of(known.points)
    tag = first_of(f"{part}.{lug}" for part in known.bodies for lug in known.lugs[part])
    shapes = [
        shape for shape in drawing.shapes
        if stem(shape).partition("-")[0] not in _NO_TERMINALS
        and min(shape.box.width, shape.box.height) < _BODY
    ]  # fmt: skip
    within = {
        shape: lug
        for word in drawing.words if (lug := bare(word))
        for shape in shapes if holds(shape.box, word.box.centre)
    }  # fmt: skip
    found: list[tuple[Shape, str | None]] = list(within.items())
    left = [word for word in drawing.words
            if not any(holds(shape.box, word.box.centre) for shape in within)]  # fmt: skip
    lugs = [s for s in shapes if s not in within and s.kind != "point"]
    found += paired(lugs, left, lambda word: bare(word) or point(word))
    points = [s for s in shapes if s.kind == "point"]
    return found + paired(points, left, lambda word: point(word) or flag(word) or tag(word))


def flag(word: Word) -> str | None:
    """The number of a net that goes on where the same number stands."""
    return word.text if re.fullmatch(r"\(\d+\)", word.text) else None


def holds(box: Box, at: XY) -> bool:
    """Whether a place is in a box."""
    return box.left <= at[0] <= box.right and box.top <= at[1] <= box.bottom


def stem(shape: Shape) -> str:
    """The kind of a symbol however it lies."""
    return shape.kind.removesuffix("-lying").removesuffix("-us")


def spot_said(at: XY) -> str:
    """A place in words."""
    return f"{at[0]:.1f}, {at[1]:.1f}"


def first_of(names: Iterable[str]) -> Name:
    """A text that begins with one of the names."""
    known = frozenset(names)

    def name(word: Word) -> str | None:
        head = word.text.split(" ")[0].rstrip(":,")
        return head if head in known else None

    return name


def lug_name(known: Vocabulary) -> Name:
    """A text that is the name of a lug, bare or in full, or of several side by side."""

    def name(word: Word) -> str | None:
        text = word.text.replace("\N{MINUS SIGN}", "-")
        part, lugs = split(text, known)
        having = (known.lugs[p] for p in ([part] if part else known.bodies))
        return text if any(set(lugs) <= set(every) for every in having) else None

    return name


def split(text: str, known: Vocabulary) -> tuple[str | None, list[str]]:
    """``S1 A∥B`` as the part, if it is named, and the lugs."""
    for part in known.bodies:
        if text.startswith((f"{part}.", f"{part} ")):
            return part, text[len(part) + 1 :].split("∥")
    return None, text.split("∥")


def paired(
    shapes: Sequence[Shape], words: Iterable[Word], name: Name, beside: float = _BESIDE
) -> list[tuple[Shape, str | None]]:
    """Each symbol with its name: as many pairs as can be, and these as close as can be."""
    named = [(word, told) for word in words if (told := name(word)) is not None]
    if not shapes or not named:
        return [(shape, None) for shape in shapes]
    gaps = np.array([[away(shape.box, word.box) for word, _ in named] for shape in shapes])
    sizes = np.array([[1e-6 * shape.box.width * shape.box.height] for shape in shapes])
    chosen = linear_sum_assignment(np.where(gaps < beside, gaps + sizes, _FAR))
    taken = {int(s): int(w) for s, w in zip(*chosen, strict=True) if gaps[s, w] < beside}
    return [(shape, named[taken[s]][1] if s in taken else None) for s, shape in enumerate(shapes)]


def owners(
    drawing: Drawing, known: Vocabulary, names: Iterable[tuple[Shape, str | None]]
) -> Callable[[Shape, str], tuple[str, ...]]:
    """What terminals a lug's name stands for: of the nearest part that has such lugs.

    A part is where its body is, or a lug that is called in full.
    """
    bodies = [
        shape for shape in drawing.shapes if stem(shape) not in (*_LEADS, "tag", "frame")
        and min(shape.box.width, shape.box.height) >= _BODY
    ]  # fmt: skip
    called_so = paired(bodies, drawing.words, first_of(known.bodies), _FROM_BODY)
    at = [(shape.box, name) for shape, name in called_so if name]
    at += [(s.box, part) for s, n in names if n and (part := split(n, known)[0])]

    def terminals(shape: Shape, name: str) -> tuple[str, ...]:
        part, lugs = split(name, known)
        having = [p for p in known.bodies if set(lugs) <= set(known.lugs[p])]
        near = [(away(shape.box, box), p) for box, p in at if p in having]
        of = part or (having[0] if len(having) == 1 else min(near, default=(0.0, "?"))[1])
        return tuple(f"{of}.{lug}" for lug in lugs)

    return terminals


def lead_end(terminal: str, at: XY) -> Spot:
    """The end of a lead."""
    return Spot(terminal, Box(*at, *at))


def ends_of(shape: Shape) -> tuple[XY, XY]:
    """Where the leads of a part end: the upper, or left, one first."""
    if shape.kind.endswith("-lying"):
        return shape.end("left"), shape.end("right")
    return shape.end("top"), shape.end("bottom")


def leads(shape: Shape, part: str, words: Iterable[Word], known: Vocabulary) -> Iterator[Spot]:
    """The two ends of a part, by their lugs where it matters which is which."""
    ends = ends_of(shape)
    if part in known.turns:
        yield from (lead_end(part, end) for end in ends)
        return
    lugs = known.lugs[part]
    if stem(shape) == "diode-up":
        ends = ends[::-1]
    elif stem(shape) != "diode":
        plus = [w.box for w in words if w.text == "+" and away(w.box, shape.box) < _BESIDE]
        lugs = lugs if plus else ("?", "?")
        ends = plus_first(shape, plus)
    yield from (lead_end(f"{part}.{lug}", end) for lug, end in zip(lugs, ends, strict=True))


def plus_first(shape: Shape, plus: Sequence[Box]) -> tuple[XY, XY]:
    """The ends of a part, the one at the plus sign first; a disc has four sides to end on."""
    (x, y), box = shape.box.centre, shape.box
    ends = [ends_of(shape)]
    if stem(shape) == "meter":
        ends = [((x, box.top), (x, box.bottom)), ((box.left, y), (box.right, y))]
    either = [pair for one, two in ends for pair in ((one, two), (two, one))]
    return min(
        either, key=lambda pair: min((math.dist(p.centre, pair[0]) for p in plus), default=0.0)
    )


def pot_spots(shape: Shape, part: str, words: Iterable[Word]) -> Iterator[Spot]:
    """Track and wiper of a pot: ccw at the top or left if not marked, the wiper beside it."""
    ccw, cw = ends_of(shape)
    marks = [w for w in words if w.text in ("ccw", "cw") and away(w.box, shape.box) < MARK]
    for mark in marks:
        nearer = min((ccw, cw), key=lambda end: math.dist(end, mark.box.centre))
        if nearer != {"ccw": ccw, "cw": cw}[mark.text]:
            ccw, cw = cw, ccw
    wiper = shape.end("top" if shape.kind.endswith("-lying") else "right")
    yield lead_end(f"{part}.ccw", ccw)
    yield lead_end(f"{part}.wiper", wiper)
    yield lead_end(f"{part}.cw", cw)


def joins_of(
    strokes: Sequence[Stroke], dots: Sequence[XY], spots: Sequence[Spot], words: Sequence[Word]
) -> tuple[list[list[Node]], list[str]]:
    """Groups of lines and spots that meet, and what cannot be read.

    A line that stops beside the words ``W7 to A2`` goes on where those of W7 stand again.
    """
    stubs: dict[str, list[Node]] = {}
    joins: list[list[Node]] = [met(dot, strokes, spots) for dot in dots]
    troubles = [
        f"dot at {spot_said(dot)} joins nothing"
        for dot, group in zip(dots, joins, strict=True) if len(group) < 2
    ]  # fmt: skip
    joins += touching(spots)
    for number, stroke in enumerate(strokes):
        for end in (stroke.points[0], stroke.points[-1]):
            here: Node = ("line", number)
            group = [("spot", n) for n, spot in enumerate(spots) if at_spot(end, spot)]
            if group or any(math.dist(end, dot) < MEETS for dot in dots):
                joins.append([here, *group])
                continue
            others = [n for n, other in enumerate(strokes) if n != number and ends_at(other, end)]
            over = [n for n, other in enumerate(strokes) if from_line(end, other.points) < MEETS]
            joins.append([here, *(("line", n) for n in others)])
            goes_on = nearest_word(end, words, _GOES_ON)
            if goes_on and not over[1:]:
                stubs.setdefault(goes_on.split()[0], []).append(here)
            elif len(others) != 1 or len(over) > 2:
                troubles.append(
                    f"line ends at {spot_said(end)} {'without a dot' if over[1:] else 'on nothing'}"
                )
    troubles += (f"{name} goes on nowhere" for name, ends in stubs.items() if len(ends) < 2)
    return [*joins, *stubs.values()], [*troubles, *over_spots(strokes, dots, spots)]


def nearest_word(at: XY, words: Iterable[Word], like: re.Pattern[str]) -> str | None:
    """The nearest text of a kind beside a place."""
    near = [(away(word.box, Box(*at, *at)), word.text) for word in words if like.match(word.text)]
    gap, text = min(near, default=(math.inf, ""))
    return text if gap < _BESIDE else None


def met(dot: XY, strokes: Sequence[Stroke], spots: Sequence[Spot]) -> list[Node]:
    """What a dot joins."""
    lines = [n for n, stroke in enumerate(strokes) if from_line(dot, stroke.points) < MEETS]
    ends = [n for n, spot in enumerate(spots) if at_spot(dot, spot)]
    return [*(("line", n) for n in lines), *(("spot", n) for n in ends)]


def touching(spots: Sequence[Spot]) -> Iterator[list[Node]]:
    """Leads that end on a lug, or on the end of another."""
    for (m, one), (n, two) in combinations(enumerate(spots), 2):
        ends = [spot for spot in (one, two) if not spot.box.width]
        if one.box == two.box or any(
            at_spot(end.at, other) for end in ends for other in (one, two) if other is not end
        ):
            yield [("spot", m), ("spot", n)]


def at_spot(at: XY, spot: Spot) -> bool:
    """Whether what ends there ends on the spot."""
    return holds(spot.box.grown(MEETS), at)


def ends_at(stroke: Stroke, at: XY) -> bool:
    """Whether one of a line's ends is there."""
    return any(math.dist(at, end) < MEETS for end in (stroke.points[0], stroke.points[-1]))


def over_spots(
    strokes: Sequence[Stroke], dots: Sequence[XY], spots: Sequence[Spot]
) -> Iterator[str]:
    """Lines that run over a terminal without ending there: joined, or not?"""
    for stroke in strokes:
        for spot in spots:
            if any(at_spot(end, spot) for end in (stroke.points[0], stroke.points[-1])):
                continue
            if runs_over(stroke, spot) and not any(math.dist(dot, spot.at) < MEETS for dot in dots):
                yield f"a line runs over {spot.terminal} at {spot_said(spot.at)}"


def runs_over(stroke: Stroke, spot: Spot) -> bool:
    """Whether a line runs over a spot."""
    if not spot.box.width:
        return from_line(spot.at, stroke.points) < MEETS
    return any(enters(piece, spot.box.grown(-MEETS)) for piece in pairwise(stroke.points))


def through_parts(strokes: Sequence[Stroke], shapes: Iterable[Shape]) -> Iterator[str]:
    """Lines that run through the body of a part."""
    for shape in shapes:
        if stem(shape) in (*_LEADS, "pot"):
            inner = shape.box.grown(-MEETS)
            if any(enters(piece, inner) for s in strokes for piece in pairwise(s.points)):
                yield f"a line runs through the {shape.kind} at {spot_said(shape.box.centre)}"


def along(strokes: Sequence[Stroke]) -> Iterator[tuple[int, int, XY]]:
    """Pairs of lines that share more than a crossing or an end, and where."""
    for (m, one), (n, two) in combinations(enumerate(strokes), 2):
        for piece in pairwise(one.points):
            for other in pairwise(two.points):
                middle = shared(piece, other)
                if middle is not None:
                    yield m, n, middle


def shared(piece: tuple[XY, XY], other: tuple[XY, XY]) -> XY | None:
    """The middle of what two straight pieces share, if they run along each other."""
    close = [end for end in other if from_piece(end, piece) < MEETS]
    close += [end for end in piece if from_piece(end, other) < MEETS]
    if not close:
        return None
    first, last = min(close), max(close)
    if math.dist(first, last) < 3 * MEETS:
        return None
    return ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)


def wires_of(
    strokes: Sequence[Stroke],
    words: Iterable[Word],
    spots: Sequence[Spot],
    dotted: Callable[[int, XY], frozenset[str]],
    known: Vocabulary,
) -> dict[str, Ends]:
    """Wires by the ids beside them, with what the ends of those lines stand on.

    Where an end stands on a dot it is what that dot joins.
    """
    name = first_of(known.wires)
    wires: dict[str, Ends] = {}
    for word in words:
        told = name(word)
        near = [(from_box(word.box, s.points), n) for n, s in enumerate(strokes)
                if told and coloured(word, s)]  # fmt: skip
        if told is None or not near:
            continue
        number = min(near)[1]
        on, over = wires.get(told, (frozenset(), frozenset()))
        for end in (strokes[number].points[0], strokes[number].points[-1]):
            here = frozenset(spot.terminal for spot in spots if at_spot(end, spot))
            on, over = on | here, over | (frozenset() if here else dotted(number, end))
        wires[told] = on, over
    return wires


def coloured(word: Word, stroke: Stroke) -> bool:
    """Whether a line has the colour that stands, in letters, behind the id of a wire, if any."""
    letters = word.text.split()[1:]
    return not letters or SHADES.get(letters[0][:2], stroke.ink) == stroke.ink


def from_box(box: Box, points: Sequence[XY]) -> float:
    """How far a line is from a text, mm; below 0 where it runs through."""
    if any(enters(piece, box) for piece in pairwise(points)):
        return -1.0
    corners = [(x, y) for x in (box.left, box.right) for y in (box.top, box.bottom)]
    near = (away(box, Box(x, y, x, y)) for x, y in points)
    return min(*near, *(from_line(corner, points) for corner in corners))
