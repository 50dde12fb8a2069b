"""What is wrong with a picture of the card, beside what every picture is held to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rewire.draw.scene import Scene
from rewire.records.spec import Wiring
from tests.draw.audit import audit
from tests.draw.readback import Read, Vocabulary

LEAST_POINTS = 8.0
_WEIGHTS = 3


def audit_page(scene: Scene) -> list[str]:
    """Everything on a whole card that somebody could misread."""
    return [*audit(scene), *_small(scene)]


def audit_card(scene: Scene) -> list[str]:
    """Everything on a picture of the card that somebody could misread."""
    return [*audit_page(scene), *_weights(scene)]


def _small(scene: Scene) -> Iterator[str]:
    for text in scene.texts:
        if text.points < LEAST_POINTS:
            yield f"text {text.text!r} has {text.points:g} points"


def _weights(scene: Scene) -> Iterator[str]:
    inked = (s for s in scene.symbols if s.kind not in ("gap", "swatch"))
    weights = {round(item.width, 2) for item in (*scene.lines, *inked) if item.width}
    if len(weights) > _WEIGHTS:
        yield f"{len(weights)} line weights: {', '.join(f'{w:g}' for w in sorted(weights))}"


def unlabelled(scene: Scene, wiring: Wiring) -> Iterator[str]:
    """Wires whose id, or whose colour's letters, stand on no text of theirs."""
    for wire in wiring.wires:
        shows = {f"wire:{wire.id}", f"jumper:{wire.id}"}
        said = [text.text for text in scene.texts if text.shows in shows]
        for word in (wire.id, wire.colour or ""):
            if not any(word in text for text in said):
                yield f"{wire.id} does not say {word}"


def not_once(read: Read, known: Vocabulary) -> Iterator[str]:
    """Terminals that are drawn never or twice; a point may stand wherever it is needed."""
    ends = Counter({f"{part}.{lug}": 1 for part in known.bodies for lug in known.lugs[part]})
    for part in known.lugs.keys() - known.bodies:
        turned = part in known.turns
        ends.update({part: 2} if turned else {f"{part}.{lug}": 1 for lug in known.lugs[part]})
    for terminal, count in sorted(ends.items()):
        if read.terminals[terminal] != count:
            yield f"{terminal} is drawn {read.terminals[terminal]} times, not {count}"
    for point in sorted(known.points - read.terminals.keys()):
        yield f"point {point} is not drawn"
