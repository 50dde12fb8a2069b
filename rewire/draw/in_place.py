"""Words that stand where they belong in the hook-up, wherever there is room: after the wires.

Names of the positions at the throws, the most volts at a lug, the name of the switch; and over
and under the picture what could not be written in it.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain

from rewire.circuit.circuit import Circuit, circuit_of
from rewire.draw.leads import FINE, LIVE, POINTS, Lead, lies, rails_of
from rewire.draw.metering import not_metering
from rewire.draw.scene import (
    XY,
    Box,
    Item,
    Line,
    Symbol,
    around,
    hull,
    line_enters,
    line_mm,
    middle_baseline,
    text_at,
    visible,
    width_mm,
    wrap,
)
from rewire.draw.switch_back import Back
from rewire.records.parts import Meter
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch, layout_doubt, lug_positions, pole_letters, style_of
from rewire.values.solved import lug_volts, sense_factors

_CLEAR = 0.3
_FROM_WIRE = 0.7
"""From words to the middle of a wire at least, mm."""
_FARTHEST = 5.0
"""From a lug of the first pole to the name of a position at most, mm."""
_LINE = line_mm(POINTS) * 0.86
"""Height of a word, mm."""
_NEAR = 1.6
"""A position's name, and a lug's volts, stand no farther from the lug, mm."""
_WRITTEN_ON = ("wafer", "body")
"""What words may stand on."""
_WAYS = ((0, -1), (0, 1), (-1, 0), (1, 0), (-1, -1), (1, -1), (-1, 1), (1, 1))


@dataclass(slots=True)
class DrawnSoFar:
    """What is drawn already, and words that find room between it."""

    items: list[Item]
    width: float
    """Words keep inside this width, mm."""
    solid: list[Box] = field(default_factory=list)
    courses: list[tuple[tuple[XY, ...], Box]] = field(default_factory=list)
    bodies: list[Box] = field(default_factory=list)

    def __post_init__(self) -> None:
        for item in self.items:
            self._taken(item)

    def _taken(self, item: Item) -> None:
        if isinstance(item, Line):
            self.courses.append((item.points, item.box))
        elif not (isinstance(item, Symbol) and item.backdrop and item.shows in _WRITTEN_ON):
            self.solid.append(item.box)
        elif item.shows == "body":
            self.bodies.append(item.box)

    def free(self, box: Box) -> bool:
        """Whether nothing is drawn there."""
        if box.left < 1.0 or box.right > self.width - 1.0:
            return False
        near, wide = box.grown(_CLEAR), box.grown(_FROM_WIRE)
        return not any(map(near.meets, self.solid)) and not any(
            wide.grown(0.01).meets(bounds) and line_enters(points, wide)
            for points, bounds in self.courses
        )

    def straddles(self, box: Box) -> bool:
        """Whether a body's outline runs through a box."""
        return any(box.meets(body) and hull([box, body]) != body for body in self.bodies)

    def write(
        self, said: str, spots: Iterable[XY], shows: str, net: str | None, *, bold: bool = False
    ) -> bool:
        """A word about the first free place, better on no outline; False where none is free."""
        wide, tall = width_mm(said, POINTS, bold), _LINE
        free = (spot for spot in spots if self.free(around(spot, wide, tall)))
        first = next(free, None)
        if first is None:
            return False
        clear = (spot for spot in chain((first,), free)
                 if not self.straddles(around(spot, wide, tall)))  # fmt: skip
        x, y = next(clear, first) if self.bodies else first
        base = middle_baseline(y, POINTS)
        text = text_at(said, x, base, POINTS, "centre", bold=bold, shows=shows, net=net)
        self.items.append(text)
        self._taken(text)
        return True

    def beside(
        self, said: str, lug: Box, outwards: XY, farthest: float, bold: bool
    ) -> Iterator[XY]:
        """Middles for a word beside a lug, the nearest first, outwards before inwards."""
        wide, tall = width_mm(said, POINTS, bold), _LINE
        x, y = lug.centre
        order = sorted(_WAYS, key=lambda way: -(way[0] * outwards[0] + way[1] * outwards[1]))
        for step in range(int(farthest * 2)):
            for dx, dy in order:
                far = 0.4 + step / 2
                yield (
                    x + dx * (lug.width / 2 + wide / 2 + far * abs(dx)),
                    y + dy * (lug.height / 2 + tall / 2 + far * abs(dy)),
                )


def words_in_place(
    spec: Spec,
    wiring: Wiring,
    decks: Sequence[Back],
    items: Sequence[Item],
    leads: Sequence[Lead],
    width: float,
) -> tuple[list[Item], list[str]]:
    """All items with the words that found room, and sentences for those that found none."""
    drawn = DrawnSoFar(list(items), width)
    missed = list(_numbers(drawn, leads))
    lugs = {lug: (box, back) for back in decks for lug, box in back.lugs.items()}
    named = Counter(back.switch for back in decks)
    for back in decks:
        if named[back.switch] == 1:
            _name(drawn, back, back.switch)
    left = [told for write in (_positions, _uses) for told in write(spec, wiring, drawn, lugs)]
    _volts(spec, wiring, drawn, lugs)
    for back in decks:
        if named[back.switch] > 1:
            _name(drawn, back, f"{back.switch} {back.title}".rstrip())
    return drawn.items, [*missed, *left]


def _numbers(drawn: DrawnSoFar, leads: Sequence[Lead]) -> Iterator[str]:
    """The number of each jumper that is too short for a tag, beside it."""
    named = {item.shows for item in drawn.items if isinstance(item, Symbol) and item.kind == "tag"}
    lines = {item.shows: item for item in drawn.items if isinstance(item, Line)}
    for lead in leads:
        if not lead.said or lead.shows in named:
            continue
        middle = around(lines[lead.shows].box.centre, 0.0, 0.0)
        spots = drawn.beside(lead.said, middle, middle.centre, 4.0, False)
        if not drawn.write(lead.said, spots, lead.shows, lead.net):
            yield f"{lead.said}: {lead.ends[0]} to {lead.ends[1]}."


def _name(drawn: DrawnSoFar, back: Back, told: str) -> None:
    """What a wafer is called, on it or close to it; in short where there is no room for all."""
    x, y = back.square.centre
    spots = [(x + dx, y + dy) for dx, dy in ((0, -3.6), (-5, 0), (5, 0), (0, 3.6), (0, -5), (0, 5))]
    square = back.square
    spots += [
        (square.left + 5.0 + n, square.top - 2.0 * m) for m in range(4) for n in range(0, 50, 3)
    ]
    spots += [
        (square.left + 5.0 + n, square.bottom + 2.0 * m) for m in range(4) for n in range(0, 50, 3)
    ]
    inside = range(-round(square.height / 2), round(square.height / 2), 2)
    spots += sorted(((x + dx, y + dy) for dx in inside for dy in inside),
                    key=lambda spot: math.dist(spot, (x, y)))  # fmt: skip
    for said in dict.fromkeys((told, told.partition(":")[0], told.partition(" (")[0], back.switch)):
        if drawn.write(said, spots, f"part:{back.switch}", None, bold=True):
            return


def _outwards(box: Box, back: Back) -> XY:
    (x, y), (u, v) = box.centre, back.square.centre
    return (x - u, y - v)


def _positions(
    spec: Spec, wiring: Wiring, drawn: DrawnSoFar, lugs: Mapping[str, tuple[Box, Back]]
) -> Iterator[str]:
    """The name of each position at the first throw that it closes, so that all are at one pole."""
    for switch in spec.all_of(Switch, wiring).values():
        if lugs.keys().isdisjoint(switch.full_terminals):
            continue
        positions, left = spec.controls[switch.control].positions, []
        if any(back.sprung and back.switch == switch.name for _, back in lugs.values()):
            yield f"{switch.name} drawn at {positions[0]}."
            continue
        for number, position in enumerate(positions):
            closed = [lug for section in switch.sections for group in section.groups[number]
                      for lug in group]  # fmt: skip
            commons = {pole[0] for pole in switch.poles}
            throws = [lug for lug in dict.fromkeys(closed) if lug not in commons]
            said, done = visible(position), False
            here = [lugs[switch.terminal(lug)] for lug in throws if switch.terminal(lug) in lugs]
            if here:
                box, back = here[0]
                spots = [
                    spot for spot in drawn.beside(said, box, _outwards(box, back), _FARTHEST, True)
                    if _nearest(around(spot, width_mm(said, POINTS, True), _LINE), lugs) is box
                ]  # fmt: skip
                done = drawn.write(said, spots, f"position:{position}", None, bold=True)
            if not done:
                left.append(f"{position} {', '.join(throws) or 'none'}")
        if left:
            yield f"{switch.name} closes: {'; '.join(left)}."


def _nearest(word: Box, lugs: Mapping[str, tuple[Box, Back]]) -> Box:
    """The lug whose outline is nearest to a word."""

    def apart(lug: Box) -> float:
        across = max(word.left - lug.right, lug.left - word.right, 0.0)
        return math.hypot(across, max(word.top - lug.bottom, lug.top - word.bottom, 0.0))

    return min((box for box, _ in lugs.values()), key=apart)


def _volts(
    spec: Spec, wiring: Wiring, drawn: DrawnSoFar, lugs: Mapping[str, tuple[Box, Back]]
) -> None:
    """The most volts at lugs that can be live; where there is no room, their tint says it."""
    volts = lug_volts(spec, wiring)
    for lug, (box, back) in lugs.items():
        if lug not in volts:
            continue
        said = f"{LIVE} {volts[lug].figure}".replace("-", "−")
        spots = drawn.beside(said, box, _outwards(box, back), _NEAR, False)
        drawn.write(said, spots, f"volts:{lug}", None)


# Over and under the picture ---------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LugWords:
    """Sentences about the switches whose lugs are shown."""

    spec: Spec
    wiring: Wiring
    lugs: frozenset[str]

    def _switches(self) -> list[Switch]:
        every = self.spec.all_of(Switch, self.wiring).values()
        return [switch for switch in every if self.lugs & set(switch.full_terminals)]

    def heading(self) -> list[tuple[str, bool]]:
        """What each switch is, how it is seen, whether its lugs stand where the spec says."""
        return [(_seen(switch), True) for switch in self._switches()]

    def heading_in_brief(self) -> list[tuple[str, bool]]:
        """The same beside a picture that says which way the knob turns."""
        doubts = [(one, (layout_doubt(one) or "").partition(":")[0]) for one in self._switches()]
        seen = [f"{_named(one)} from behind{doubt and ', '}{doubt}." for one, doubt in doubts]
        return [(said, True) for said in seen]

    def legend(self, leads: Sequence[Lead]) -> str:
        """Where the chassis is, and what the lines and marks mean."""
        rails = rails_of(self.spec, leads)
        said = [f"{point.name}: {point.where}." for point in self.spec.points.values()
                if (point.chassis or point.name in rails) and point.where]  # fmt: skip
        if any(lead.kind == "net" for lead in leads):
            said.append("Dashed: a proposal.")
        changed = self.wiring is not self.spec.original
        if changed and any(map(lies, self.wiring.parts.values())):
            said.append("Heavy: new.")
        if sense_factors(self.spec, self.wiring):
            said.append("▲: voltmeter clips, power off first.")
        if lug_volts(self.spec, self.wiring):
            said.append(f"Tinted, {LIVE}: can be live.")
        return " ".join(said)

    def must_stay(self) -> list[str]:
        """What the poles carry that have nothing to do with the meter, and why they must."""
        carried: dict[tuple[str, str], list[str]] = {}
        for switch in self._switches():
            letters = pole_letters(len(switch.poles))
            commons = {letter: switch.terminal(pole[0])
                       for letter, pole in zip(letters, switch.poles, strict=True)}  # fmt: skip
            for sentence in not_metering(self.spec, self.wiring, switch):
                who, carr, what = sentence.partition(" carr")
                poles = who.replace(",", " ").split()
                ends = {commons[pole] for pole in poles if pole in commons}
                if not ends or ends & self.lugs:
                    what = what.partition(" ")[2] if carr else sentence
                    named = [pole for pole in poles[1:] if pole != "and"]
                    carried.setdefault((switch.name, what), []).extend(named)
        return [f"{name}: never omit {', '.join(poles)}: {what.removesuffix(': do not omit')}"
                f"{self._why(what)}." for (name, what), poles in carried.items()]  # fmt: skip

    def _why(self, sentence: str) -> str:
        """The reason of the rules that ask for what a pole carries."""
        words = set(re.split(r"[ ,:]+", sentence))
        whys = [
            rule.why for rule in self.spec.rules
            if rule.kind == "connect" and rule.why and words >= set(rule.places)
        ]  # fmt: skip
        return f": {'; '.join(dict.fromkeys(whys))}" if whys else ""


def _named(switch: Switch) -> str:
    return switch.name if switch.form == "table" else f"{switch.name} {switch.form}"


def _seen(switch: Switch) -> str:
    positions = lug_positions(switch)
    seen = "from behind"
    if positions.round:
        turn = "clockwise" if positions.against_the_knob else "anticlockwise"
        seen += f", clockwise at the knob is {turn} here"
    elif style_of(switch) == "toggle":
        seen += ", the lever closes the lugs on its far side"
    doubt = layout_doubt(switch)
    tail = f". {doubt[0].upper()}{doubt[1:]}" if doubt else ""
    return f"{_named(switch)} {seen}{tail}."


def _uses(
    spec: Spec, wiring: Wiring, drawn: DrawnSoFar, lugs: Mapping[str, tuple[Box, Back]]
) -> Iterator[str]:
    """What stands at each common: a meter's terminal, a point, else another part."""
    circuit = circuit_of(spec, wiring)
    for switch in spec.all_of(Switch, wiring).values():
        left: dict[str, list[str]] = {}
        letters = pole_letters(len(switch.poles))
        for letter, pole in zip(letters, switch.poles, strict=True):
            lug = switch.terminal(pole[0])
            use = visible(_use(circuit, switch, pole[0])) if lug in lugs else ""
            use = use.replace(" -", " −")
            if not use:
                continue
            box, back = lugs[lug]
            spots = drawn.beside(use, box, _outwards(box, back), _NEAR, False)
            if not drawn.write(use, spots, f"use:{lug}", None) and use not in spec.points:
                left.setdefault(use, []).append(letter)
        if left:
            each = (f"{' and '.join(own)} {use}" for use, own in left.items())
            yield f"{switch.name}: {', '.join(each)}."


def _use(circuit: Circuit, switch: Switch, lug: str) -> str:
    """The meter's terminal, directly or through one part but not by the chassis, else a point."""
    nets, parts = circuit.nets, circuit.parts
    here = nets.of[switch.terminal(lug)]
    meters = {m.terminal(t): f"{m.name} {t}" for m in parts.values() if isinstance(m, Meter)
              for t in m.terminals}  # fmt: skip
    beside = {here}
    for part in parts.values():
        ends = {nets.of[t] for t in part.full_terminals}
        if here in ends and not isinstance(part, Switch | Meter):
            beside |= ends
    beside -= {nets.of[name] for name, point in circuit.spec.points.items() if point.chassis}
    near = sorted(meters, key=lambda t: nets.of[t] != here)
    point = next((m for m in nets.members[here] if m in circuit.spec.points), "")
    return next((meters[t] for t in near if nets.of[t] in beside), point)


def paragraph(
    said: Sequence[tuple[str, bool]], left: float, top: float, width: float, shows: str
) -> tuple[list[Item], float]:
    """Paragraphs of words from a height down, and the height below them."""
    items: list[Item] = []
    y = top
    for text, bold in said:
        for line in wrap(visible(text), width, POINTS, bold):
            items.append(text_at(line, left, middle_baseline(y + line_mm(POINTS) / 2, POINTS),
                                 POINTS, bold=bold, shows=shows))  # fmt: skip
            y += line_mm(POINTS)
    return items, y


def framed(said: Sequence[str], width: float) -> list[Item]:
    """The warning of what must not be left out, in a frame."""
    items, bottom = paragraph(
        [(f"▲ {one}", True) for one in said], 3.0, 1.0, width - 6.0, "must stay"
    )
    right = max(item.box.right for item in items) + 2.0
    frame = Symbol("frame", Box(1.0, 0.0, right, bottom + 1.0), "must stay", width=FINE,
                   fill="#fff4d6", backdrop=True)  # fmt: skip
    return [frame, *items]
