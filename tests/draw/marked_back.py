"""A marked-up circuit as two drawings: what is there before the work, and what is there after it.

Thin is what stays, heavy what is new, pale what goes. A name struck through is that of what goes;
beside a heavy part or another name it is what that takes the place of.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from rewire.draw.scene import hull
from tests.draw.drawing import Drawing, Word, away, whole_drawing
from tests.draw.readback import Vocabulary, first_of, paired, stem

_BESIDE = 1.6
"""Words that belong together stand no farther apart, mm."""
_LABEL = 3.0
"""The name of a contact stands no farther from it, mm."""
_ROUND = ("contact", "point")
_NO_PARTS = (*_ROUND, "joint", "chassis", "gang", "number", "strike")


def after_work(svg: str) -> Drawing:
    """What stays and what is new."""
    whole = whole_drawing(svg)
    return replace(
        whole,
        strokes=tuple(s for s in whole.strokes if s.look != "pale"),
        shapes=tuple(s for s in whole.shapes if s.look != "pale"),
        words=tuple(w for w in whole.words if w.look != "pale" and not struck(w, whole)),
    )


def before_work(svg: str, known: Vocabulary) -> Drawing:
    """What stays, what goes, and what is taken the place of."""
    whole = whole_drawing(svg)
    old = [word for word in whole.words if struck(word, whole)]
    name = first_of(known.lugs)
    parts = {look: [s for s in whole.shapes if s.look == look and stem(s) not in _NO_PARTS]
             for look in ("pale", "heavy")}  # fmt: skip
    gone = {told for _, told in paired(parts["pale"], old, name)}
    left = [word for word in old if name(word) not in gone]
    had = {shape for shape, told in paired(parts["heavy"], left, name) if told is not None}
    shapes = [s for s in whole.shapes if s.look != "heavy" or s in had or s.kind == "joint"]
    over = superseded(whole.words, old)
    plain = [w for w in whole.words if w not in old and w not in over.values()
             and not of_new(w, whole)]  # fmt: skip
    former = [replace(w, box=hull([w.box, over[w].box])) if w in over else w for w in old]
    strokes = tuple(s for s in whole.strokes if s.look != "heavy")
    return Drawing(strokes, tuple(shapes), (*former, *plain))


def struck(word: Word, drawing: Drawing) -> bool:
    """Whether a word is struck through."""
    return any(
        shape.kind == "strike" and shape.box.left <= word.box.left
        and word.box.right <= shape.box.right and word.box.top < shape.box.top < word.box.bottom
        for shape in drawing.shapes
    )  # fmt: skip


def superseded(words: tuple[Word, ...], old: list[Word]) -> dict[Word, Word]:
    """Words struck through, with the one right beside each on its line that stands for it now."""
    lines: dict[float, list[Word]] = {}
    for word in words:
        lines.setdefault(round(word.box.bottom, 1), []).append(word)
    found = {}
    for line in lines.values():
        for one, other in pairwise(sorted(line, key=lambda w: w.box.left)):
            if (one in old) != (other in old) and away(one.box, other.box) < _BESIDE:
                found.update([(one, other) if one in old else (other, one)])
    return found


def of_new(word: Word, drawing: Drawing) -> bool:
    """Whether it is the name of a contact or point that is new."""
    near = [(away(word.box, s.box), s.look) for s in drawing.shapes if s.kind in _ROUND]
    gap, look = min(near, default=(_LABEL, "thin"))
    return gap < _LABEL and look == "heavy"
