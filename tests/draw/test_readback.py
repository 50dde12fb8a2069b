"""The reader reads small drawings made by hand, and sees what cannot be read in them."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator

import pytest

from rewire.draw.paint import paint_svg
from rewire.draw.scene import XY, Box, Item, Line, Scene, Symbol, around, text_at
from tests.draw.marred import FAULTS
from tests.draw.readback import Read, Vocabulary, disagreements, read_back, vocabulary

KNOWN = Vocabulary(
    lugs={
        "S1": ("A", "A1", "A2"), "R1": ("1", "2"), "R2": ("1", "2"), "R3": ("1", "2"),
        "D1": ("A", "K"), "M1": ("+", "-"), "RV1": ("ccw", "wiper", "cw"),
    },
    turns=frozenset({"R1", "R2", "R3"}),
    bodies=frozenset({"S1", "M1", "RV1"}),
    points=frozenset({"CHASSIS", "HT"}),
    chassis=frozenset({"CHASSIS"}),
    wires={"W1": ("S1.A", "HT"), "W2": ("S1.A1", "HT")},
)  # fmt: skip


def lug(name: str, at: XY) -> list[Item]:
    """A lug with its name in it."""
    x, y = at
    return [Symbol("lug", around(at, 5, 5)), text_at(name, x, y + 1, 8, "centre")]


def lying(kind: str, name: str, left: XY) -> list[Item]:
    """A part 10 mm long from its left end on, its name above it."""
    x, y = left
    box = Box(x, y - 1.5, x + 10, y + 1.5)
    return [Symbol(f"{kind}-lying", box), text_at(f"{name} 10 Ω", x, y - 2, 8)]


def point(name: str, at: XY) -> list[Item]:
    """A point with its name to the right."""
    return [Symbol("point", around(at, 1.2, 1.2)), text_at(name, at[0] + 2, at[1] + 1, 8)]


def dot(*at: float) -> Symbol:
    """The dot of a joint."""
    return Symbol("joint", around((at[0], at[1]), 1.0, 1.0), fill="black")


def chassis(at: XY) -> Symbol:
    """The sign of the chassis, hanging from a place."""
    x, y = at
    return Symbol("chassis", Box(x - 2, y, x + 2, y + 3))


def wire(*points: XY, colour: str | None = None) -> Line:
    """A wire, cased where it has a colour."""
    return Line(points, width=0.9 if colour else 0.25, colour=colour, cased=colour is not None)


def read(*items: Item | list[Item]) -> Read:
    """What is read from the items as they are painted."""
    flat = [i for item in items for i in (item if isinstance(item, list) else [item])]
    return read_back(paint_svg(Scene(120, 120, tuple(flat))), KNOWN)


def nets(*told: str) -> Counter[tuple[str, ...]]:
    """Nets written with blanks between their terminals."""
    return Counter(tuple(sorted(net.split())) for net in told)


A, A1, A2 = lug("A", (10, 10)), lug("A1", (40, 10)), lug("A2", (40, 30))
SCENES: dict[str, tuple[list[Item | list[Item]], tuple[str, ...]]] = {
    "a resistor between two lugs": (
        [A, A1, lying("resistor", "R1", (20, 10)), wire((12.5, 10), (20, 10)),
         wire((30, 10), (37.5, 10))],
        ("S1.A R1", "R1 S1.A1"),
    ),
    "a resistor whose leads end on the lugs": (
        [lug("A", (20, 10)), lug("A1", (30, 10)), lying("resistor", "R1", (20, 10))],
        ("S1.A R1", "R1 S1.A1"),
    ),
    "wires that cross": (
        [A, A1, A2, point("HT", (10, 30)), wire((10, 10), (40, 30), colour="#ffffff"),
         wire((10, 30), (40, 10), colour="#c9211e")],
        ("S1.A S1.A2", "HT S1.A1"),
    ),
    "wires that cross at a dot": (
        [A, A1, A2, point("HT", (10, 30)), wire((10, 10), (40, 30)), wire((10, 30), (40, 10)),
         dot(25, 20)],
        ("S1.A S1.A2 HT S1.A1",),
    ),
    "a wire that ends on another at a dot": (
        [A, A1, A2, wire((10, 10), (40, 10)), wire((25, 10), (25, 30), (40, 30)), dot(25, 10)],
        ("S1.A S1.A1 S1.A2",),
    ),
    "a wire in two pieces": (
        [A, A1, wire((10, 10), (25, 10)), wire((25, 10), (40, 10))],
        ("S1.A S1.A1",),
    ),
    "a ring of three with taps": (
        [A, A1, A2, lying("resistor", "R1", (20, 10)), lying("resistor", "R2", (20, 30)),
         lying("resistor", "R3", (20, 50)),
         wire((10, 10), (20, 10)), wire((30, 10), (40, 10)), wire((40, 10), (45, 20), (40, 30)),
         wire((40, 30), (30, 50)), wire((30, 30), (35, 20), (40, 10)),
         wire((20, 30), (10, 10)), wire((20, 50), (10, 10))],
        ("S1.A R1 R2 R3", "S1.A1 S1.A2 R1 R2 R3"),
    ),
    "two signs of the chassis": (
        [A, A1, chassis((10, 20)), chassis((40, 20)), wire((10, 10), (10, 20)),
         wire((40, 10), (40, 20))],
        ("S1.A S1.A1 CHASSIS",),
    ),
    "a point that stands twice": (
        [A, A1, point("HT", (10, 30)), point("HT", (40, 30)), wire((10, 10), (10, 30)),
         wire((40, 10), (40, 30))],
        ("S1.A S1.A1 HT",),
    ),
    "a diode": (
        [A, A1, lying("diode", "D1", (20, 10)), wire((10, 10), (20, 10)),
         wire((30, 10), (40, 10))],
        ("S1.A D1.A", "D1.K S1.A1"),
    ),
    "a diode the other way round": (
        [A, A1, lying("diode-up", "D1", (20, 10)), wire((10, 10), (20, 10)),
         wire((30, 10), (40, 10))],
        ("S1.A D1.K", "D1.A S1.A1"),
    ),
    "a meter by its plus sign": (
        [A, A1, Symbol("meter", around((25, 10), 8, 8)), text_at("M1", 23, 4, 8),
         text_at("+", 30, 8, 8), wire((10, 10), (21, 10)), wire((29, 10), (40, 10))],
        ("S1.A M1.-", "M1.+ S1.A1"),
    ),
    "a meter with lugs on its body": (
        [Symbol("disc", around((25, 20), 20, 20)), text_at("M1", 24, 20, 8), lug("+", (25, 13)),
         lug("\N{MINUS SIGN}", (25, 27)), A, wire((10, 10), (25, 13))],
        ("S1.A M1.+",),
    ),
    "a choke, whose leads do not lie in the middle": (
        [A, A1, Symbol("choke-lying", Box(20, 8.5, 30, 11.5)), text_at("R1", 22, 5, 8),
         wire((10, 10), (20, 10)), wire((30, 10), (40, 10))],
        ("S1.A R1", "R1 S1.A1"),
    ),
    "a wire that goes on where its words stand again": (
        [A, A1, wire((10, 10), (10, 20)), wire((40, 10), (40, 60)), text_at("W9 to A1", 5, 24, 8),
         text_at("W9 to A", 35, 64, 8)],
        ("S1.A S1.A1",),
    ),
    "leads that say where they go": (
        [A, A1, lying("resistor", "R1", (20, 50)), wire((10, 10), (10, 20)),
         text_at("to S1.A1", 4, 23.3, 8), wire((40, 10), (40, 20)), text_at("to R1.2", 36, 23.3, 8),
         wire((30, 50), (40, 50)), text_at("to S1.A1", 40.8, 51, 8), wire((10, 50), (20, 50)),
         text_at("to HT", 9.2, 51, 8, "right")],
        ("S1.A S1.A1 R1", "HT R1"),
    ),
    "a pot": (
        [A, A1, A2, Symbol("pot-lying", Box(20, 28, 30, 32)), text_at("RV1", 21, 35, 8),
         wire((20, 30), (10, 30), (10, 10)), wire((25, 28), (25, 10), (40, 10)),
         wire((30, 30), (40, 30))],
        ("S1.A RV1.ccw", "S1.A1 RV1.wiper", "S1.A2 RV1.cw"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SCENES)
def test_small_drawings_are_read(name: str) -> None:
    items, told = SCENES[name]
    found = read(*items)
    assert found.troubles == ()
    assert found.nets == nets(*told)


UNREADABLE: dict[str, tuple[list[Item | list[Item]], str]] = {
    "a wire that ends on another without a dot": (
        [A, A1, wire((10, 10), (40, 10)), wire((25, 10), (25, 30), (40, 30)), A2],
        "line ends at 25.0, 10.0 without a dot",
    ),
    "three wires that end together without a dot": (
        [A, A1, A2, wire((10, 10), (25, 10)), wire((25, 10), (40, 10)), wire((25, 10), (40, 30))],
        "line ends at 25.0, 10.0 without a dot",
    ),
    "a wire that ends on nothing": (
        [A, wire((10, 10), (20, 10))],
        "line ends at 20.0, 10.0 on nothing",
    ),
    "a wire over a lug": (
        [A, A2, lug("A1", (25, 20)), wire((10, 10), (40, 30))],
        "a line runs over S1.A1 at 25.0, 20.0",
    ),
    "a lead that says it goes to a part on another net": (
        [A, lying("resistor", "R1", (20, 50)), wire((10, 10), (10, 20)),
         text_at("to R1.2", 6, 23.3, 8)],
        "a line says (to R1), which is on another net",
    ),
    "a dot of nothing": ([A, dot(20, 10)], "dot at 20.0, 10.0 joins nothing"),
    "a resistor without a name": (
        [A, A1, Symbol("resistor-lying", Box(10, 8, 40, 12))],
        "resistor-lying at 25.0, 10.0 has no name",
    ),
    "wires along each other": (
        [A, A1, A2, point("HT", (60, 10.1)), wire((10, 10), (30, 10), (30, 30), (40, 30)),
         wire((60, 10.1), (50, 10.1), (50, 20), (30.1, 20), (30.1, 40), (20, 40), (20, 10.1),
              (15, 10.1), (40, 10))],
        "lines run along each other at",
    ),
    "a wire through a part": (
        [A, A1, A2, lying("resistor", "R1", (20, 20)), wire((10, 10), (10, 20), (20, 20)),
         wire((30, 20), (35, 20), (35, 10), (40, 10)), wire((25, 40), (25, 5), (60, 5))],
        "a line runs through the resistor-lying at 25.0, 20.0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_is_reported(name: str) -> None:
    items, told = UNREADABLE[name]
    assert any(said.startswith(told) for said in read(*items).troubles)


def labelled(first: str, second: str) -> Iterator[Item]:
    """Two wires from a switch to a point, each with an id on it."""
    yield from (*A, *A1, *point("HT", (25, 60)), wire((10, 10), (25, 60)), wire((40, 10), (25, 60)))
    yield text_at(first, 15, 30, 8)
    yield text_at(second, 32, 30, 8)


def test_a_wire_is_known_by_the_id_beside_it() -> None:
    assert read(list(labelled("W1", "W2"))).wires == {
        "W1": (frozenset({"S1.A", "HT"}), frozenset()),
        "W2": (frozenset({"S1.A1", "HT"}), frozenset()),
    }


def test_of_two_wires_beside_an_id_it_is_the_one_in_the_colour_of_its_letters() -> None:
    """The red wire is nearer to the words, but they say black."""
    black = wire((10, 10), (10, 20), (60, 20), (60, 10), colour="#1a1a1a")
    red = wire((40, 10), (60, 10), colour="#c9211e")
    items = [*A, *A1, *point("HT", (60, 10)), black, red, text_at("W1 BK", 45, 14, 8)]
    assert read(items).wires == {"W1": (frozenset({"S1.A", "HT"}), frozenset())}


PLAIN = {
    "controls": {"K": ["P", "Q"]},
    "points": {"CHASSIS": {"chassis": "yes"}, "HT": {}},
    "wirings": {
        "plan": {
            "parts": {
                "S1": {"switch": "SPDT", "control": "K"},
                "R1": {"resistor": "10 ohm"},
                "D1": {"diode": "silicon"},
            },
            "wires": [
                {"id": "W1", "from": "S1.A", "to": "HT"},
                {"id": "W2", "from": "S1.A1", "to": "R1.1"},
                {"id": "W3", "from": "S1.A2", "to": "D1.A"},
                {"id": "W4", "from": "R1.2", "to": "CHASSIS"},
                {"id": "W5", "from": "D1.K", "to": "CHASSIS"},
            ],
        }
    },
}
WIRES = {w["id"]: (w["from"], w["to"]) for w in PLAIN["wirings"]["plan"]["wires"]}  # type: ignore[index]


def whole_drawing() -> str:
    """The plan above: the wire from A1 crosses the one from A."""
    items: list[Item] = [
        Symbol("disc", Box(20, 5, 50, 45), backdrop=True), text_at("S1", 22, 24, 8),
        *lug("A", (45, 10)), *lug("A1", (35, 25)), *lug("A2", (35, 40)), *point("HT", (10, 50)),
        wire((45, 10), (45, 20), (10, 20), (10, 50), colour="#c9211e"),
        wire((35, 25), (35, 15), (60, 15), colour="#1f5fbf"), *lying("resistor", "R1", (60, 15)),
        wire((70, 15), (80, 15), (80, 20)), chassis((80, 20)),
        wire((35, 40), (60, 40)), *lying("diode", "D1", (60, 40)),
        wire((70, 40), (80, 40), (80, 45)), chassis((80, 45)),
        text_at("W1", 14, 19, 8), text_at("W2", 52, 14, 8), text_at("W3", 52, 44, 8),
        text_at("W4", 75, 13, 8), text_at("W5", 75, 38, 8),
    ]  # fmt: skip
    return paint_svg(Scene(120, 120, tuple(items))).decode()


def test_a_whole_drawing_agrees_with_the_plain_spec() -> None:
    assert disagreements(whole_drawing(), vocabulary(PLAIN, "plan", WIRES)) == []


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("seed", range(8))
def test_a_drawing_with_one_fault_does_not_agree(fault: str, seed: int) -> None:
    known = vocabulary(PLAIN, "plan", WIRES)
    marred = FAULTS[fault](whole_drawing(), random.Random(seed), known)
    assert marred is not None
    assert disagreements(marred, known)
