"""Finished drawings with one thing wrong in each: what a reader has to see.

Each takes the SVG of a drawing and a source of chance, and gives the SVG with the fault in it, or
None where the drawing has nothing that could be wrong in that way.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Sequence
from itertools import combinations, pairwise
from xml.etree.ElementTree import Element, fromstring, tostring

from rewire.draw.scene import XY
from tests.draw.drawing import SVG, Word, course, drawing_of, drawn, stroke_of, word_of
from tests.draw.readback import (
    Name,
    Spot,
    Vocabulary,
    at_spot,
    first_of,
    lug_name,
    spots_of,
)

Fault = Callable[[str, random.Random, Vocabulary], str | None]


def wire_taken_away(svg: str, rng: random.Random, _: Vocabulary) -> str | None:
    """One line less."""
    root = fromstring(svg)
    lines = [element for element in drawn(root) if stroke_of(element)]
    return _without(root, rng.choice(lines)) if lines else None


def _without(root: Element, gone: Element) -> str:
    parent = next(e for e in root.iter() if gone in list(e))
    parent.remove(gone)
    return tostring(root, encoding="unicode")


def dot_at_a_crossing(svg: str, rng: random.Random, known: Vocabulary) -> str | None:
    """A dot where lines of two nets only cross."""
    root = fromstring(svg)
    spots, _ = spots_of(drawing_of(svg), known)
    courses = [stroke.points for e in drawn(root) if (stroke := stroke_of(e))]
    places = [
        at
        for one, two in combinations(courses, 2)
        for at in crossings(one, two) if apart(one, two, spots, known)
    ]  # fmt: skip
    if not places:
        return None
    x, y = rng.choice(places)
    dot = Element("g", {"data-kind": "joint"})
    corners = f"M{x - 0.5:.2f} {y - 0.5:.2f}L{x + 0.5:.2f} {y - 0.5:.2f}L{x:.2f} {y + 0.5:.2f}Z"
    dot.append(Element(f"{SVG}path", {"d": corners, "fill": "#000000"}))
    root.append(dot)
    return tostring(root, encoding="unicode")


def apart(one: Sequence[XY], two: Sequence[XY], spots: Sequence[Spot], known: Vocabulary) -> bool:
    """Whether two lines stand on terminals of different nets."""
    first, second = (
        {s.terminal for s in spots for end in (points[0], points[-1]) if at_spot(end, s)}
        for points in (one, two)
    )
    same = any(first & set(net) and second & set(net) for net in known.nets)
    return bool(first and second) and not first & second and not same


def crossings(one: Sequence[XY], two: Sequence[XY]) -> list[XY]:
    """Where two lines cross inside straight pieces of both."""
    found = []
    for (ax, ay), (bx, by) in pairwise(one):
        for (cx, cy), (dx, dy) in pairwise(two):
            across = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
            if abs(across) < 1e-9:
                continue
            s = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / across
            t = ((cx - ax) * (by - ay) - (cy - ay) * (bx - ax)) / across
            if 0.02 < s < 0.98 and 0.02 < t < 0.98:
                found.append((ax + s * (bx - ax), ay + s * (by - ay)))
    return found


def end_on_another_lug(svg: str, rng: random.Random, known: Vocabulary) -> str | None:
    """A line whose end stands on a lug of another net than before."""
    root = fromstring(svg)
    spots, _ = spots_of(drawing_of(svg), known)
    lugs = [spot for spot in spots if spot.box.width and spot.terminal not in known.gone]
    fit = [
        (element, stroke.points, lug.at)
        for element in drawn(root) if (stroke := stroke_of(element))
        for lug in lugs if foreign(lug, stroke.points, spots, known)
    ]  # fmt: skip
    if not fit:
        return None
    element, points, lug = rng.choice(fit)
    said = "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in [*points[:-1], lug])
    for path in (element, *element):
        if course(path) == points:
            path.set("d", said)
    return tostring(root, encoding="unicode")


def foreign(lug: Spot, points: Sequence[XY], spots: Sequence[Spot], known: Vocabulary) -> bool:
    """Whether a lug is of another net than all that a line's ends stand on."""
    at = {spot.terminal for spot in spots for end in (points[0], points[-1]) if at_spot(end, spot)}
    same = any(lug.terminal in net and at & set(net) for net in known.nets)
    return bool(at - known.gone) and lug.terminal not in at and not same


def names_exchanged(svg: str, rng: random.Random, known: Vocabulary) -> str | None:
    """Two lugs, parts, points or wires with each other's names, where that makes a difference."""
    root = fromstring(svg)
    texts = [element for element in drawn(root) if element.tag == f"{SVG}text"]
    found = [
        named(texts, name)
        for name in (full_lug(known), *map(first_of, (known.lugs, known.points, known.wires)))
    ]
    pairs = [
        (some, first, second)
        for some in found
        for first, second in combinations(sorted({told for _, told in some}), 2)
        if not alike(first, second, known)
    ]
    if not pairs:
        return None
    some, first, second = rng.choice(pairs)
    heads = {told: (element.text or "").split(" ")[0] for element, told in some}
    for element, told in some:
        if told in (first, second):
            other = second if told == first else first
            element.text = (element.text or "").replace(heads[told], heads[other], 1)
    return tostring(root, encoding="unicode")


def named(texts: Sequence[Element], name: Name) -> list[tuple[Element, str]]:
    """The texts that name something, with what they name."""
    return [(element, told) for element in texts if (told := name(word_of(element)))]


def full_lug(known: Vocabulary) -> Name:
    """The full name of a lug that only one part has."""
    bare = lug_name(known)

    def name(word: Word) -> str | None:
        lug = bare(word)
        having = [part for part in known.bodies if lug in known.lugs[part]]
        return f"{having[0]}.{lug}" if len(having) == 1 else None

    return name


def alike(one: str, two: str, known: Vocabulary) -> bool:
    """Whether nets and wires are the same with the two names exchanged."""
    turned = {one: two, two: one}

    def exchanged(terminal: str) -> str:
        part, stop, lug = terminal.partition(".")
        return turned.get(terminal) or f"{turned.get(part, part)}{stop}{lug}"

    other = Counter(tuple(sorted(map(exchanged, net))) for net in known.nets.elements())
    wires = {exchanged(name): set(map(exchanged, ends)) for name, ends in known.wires.items()}
    return other == known.nets and wires == {n: set(ends) for n, ends in known.wires.items()}


FAULTS: dict[str, Fault] = {
    "a wire taken away": wire_taken_away,
    "a dot at a crossing": dot_at_a_crossing,
    "an end on another lug": end_on_another_lug,
    "two names exchanged": names_exchanged,
}
