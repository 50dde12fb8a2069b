"""Circuit views read back: what is drawn is the network, legible, and tells what flows."""

from __future__ import annotations

import io
import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

import networkx as nx
import pypdf
import pytest

from rewire.circuit.states import LimitReached
from rewire.draw.circuit import MOST_BRANCHES, circuit_panel, circuit_view
from rewire.draw.paint import paint_pdf
from rewire.draw.scene import PAPER, XY, Box, Line, Panel, Paper, Symbol, Text, visible
from rewire.reading import read_spec, read_text
from rewire.values.reading_network import Network, NetworkBranch, network_of
from rewire.values.solved import solved_of
from rewire.words.quantity import with_unit
from tests.draw.audit import audit
from tests.draw.random_circuits import random_circuit

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
SEEDS = range(120)
NEAR = 1e-3


def shipped() -> Iterator[Network]:
    for path in SPECS:
        spec = read_spec(path)
        for wiring in spec.wirings.values():
            solved = solved_of(spec, wiring)
            yield from (network_of(solved, name) for name in wiring.readings)


def random_network(seed: int, **more: float) -> Network:
    spec = read_text(random_circuit(seed, **more).encode())  # type: ignore[arg-type]
    return network_of(solved_of(spec, spec.original), next(iter(spec.original.readings)))


SHIPPED = {f"{n.wiring} {n.reading.name} {k}": n for k, n in enumerate(shipped())}


class Drawn:
    """A panel taken apart: its lines joined where they meet, its symbols and their words."""

    def __init__(self, panel: Panel) -> None:
        self.lines = [i for i in panel.items if isinstance(i, Line)]
        self.symbols = [i for i in panel.items if isinstance(i, Symbol)]
        self.texts = [i for i in panel.items if isinstance(i, Text)]
        self.wires = [line for line in self.lines if line.net is not None]

    def groups(self) -> Counter[str]:
        """Net → into how many pieces that do not touch its lines fall; a dot joins a crossing."""
        dots = [s.box.centre for s in self.symbols if s.kind == "joint"]
        graph: nx.Graph[int] = nx.Graph()
        graph.add_nodes_from(range(len(self.wires)))
        boxes = [wire.box.grown(NEAR) for wire in self.wires]
        of_net = defaultdict(list)
        for number, wire in enumerate(self.wires):
            of_net[wire.net].append(number)
        for numbers in of_net.values():
            for a in numbers:
                meets = [*self.wires[a].points, *(dot for dot in dots if inside(dot, boxes[a]))]
                graph.add_edges_from(
                    (a, b) for b in numbers if any(inside(at, boxes[b]) for at in meets)
                )
        pieces = nx.connected_components(graph)
        return Counter(str(self.wires[min(piece)].net) for piece in pieces)

    def net_at(self, place: XY) -> str:
        """The net whose line ends here."""
        found = {w.net for w in self.wires if any(same(place, end) for end in w.points)}
        assert len(found) == 1, (place, found)
        return str(found.pop())


def same(a: XY, b: XY) -> bool:
    return abs(a[0] - b[0]) < NEAR and abs(a[1] - b[1]) < NEAR


def on(place: XY, line: Line) -> bool:
    return inside(place, line.box.grown(NEAR))


def inside(place: XY, box: Box) -> bool:
    return box.left <= place[0] <= box.right and box.top <= place[1] <= box.bottom


def ends_of(symbol: Symbol) -> tuple[XY, XY]:
    x = symbol.box.centre[0]
    return (x, symbol.box.top), (x, symbol.box.bottom)


def seen(drawn: Drawn) -> Iterator[tuple[str, frozenset[str]]]:
    """Parts with the nets of their two leads, contacts with those of their two lugs."""
    for symbol in drawn.symbols:
        if symbol.shows.startswith("part:"):
            yield symbol.shows, frozenset(drawn.net_at(end) for end in ends_of(symbol))
    for blade in drawn.lines:
        if blade.net is not None:
            continue
        (x, top), (_, bottom) = blade.points
        lugs = [s for s in drawn.symbols if s.shows in blade.joins and on(s.box.centre, blade)]
        assert len(lugs) == 2
        upper, lower = sorted(lugs, key=lambda s: s.box.top)
        assert same(upper.box.centre, (x, top))
        assert same(lower.box.centre, (x, bottom))
        yield (
            " ".join(sorted(s.shows for s in lugs)),
            frozenset((drawn.net_at((x, upper.box.top)), drawn.net_at((x, lower.box.bottom)))),
        )


def due(network: Network) -> Iterator[tuple[str, frozenset[str]]]:
    for branch in network.branches:
        if branch.kind == "drive":
            continue
        lugs = " ".join(sorted(f"lug:{lug}" for lug in branch.terminals))
        shows = lugs if branch.kind == "contact" else f"part:{branch.part}"
        yield shows, frozenset(network.nodes[end].net for end in branch.ends)


def check(network: Network, paper: Paper) -> None:
    scenes = circuit_view(network, paper)
    assert [trouble for scene in scenes for trouble in audit(scene)] == []
    drawn = [Drawn(circuit_panel(network, paper))]
    assert Counter(s for one in drawn for s in seen(one)) == Counter(due(network))
    for one in drawn:
        assert set(one.groups().values()) <= {1}
        dotted(one)
        polarity(one, network)
        flows(one, network)
    names = Counter(spelt for one in drawn for spelt in bold_names(one))
    for branch in network.branches:
        for name in branch.terminals if branch.kind == "contact" else (branch.part,):
            assert not name or names[name]


def dotted(drawn: Drawn) -> None:
    """A line that ends inside another of its net has a dot there; one that crosses has none."""
    dots = [s.box.centre for s in drawn.symbols if s.kind == "joint"]
    for line in drawn.wires:
        for other in drawn.wires:
            if other is line or other.net != line.net:
                continue
            for end in line.points:
                if on(end, other) and not any(same(end, e) for e in other.points):
                    assert any(same(end, dot) for dot in dots)


def polarity(drawn: Drawn, network: Network) -> None:
    """Plus and minus stand beside the lead that goes to that terminal."""
    for symbol in drawn.symbols:
        branch = branch_of(symbol, network)
        if branch is None or branch.kind != "meter":
            continue
        for sign, end in zip("+−", branch.ends, strict=True):
            text = next(t for t in drawn.texts if t.text == sign and t.on == symbol.shows)
            near = min(ends_of(symbol), key=lambda e: abs(e[1] - text.box.centre[1]))
            assert drawn.net_at(near) == network.nodes[end].net


def branch_of(symbol: Symbol, network: Network) -> NetworkBranch | None:
    theirs = [b for b in network.branches if symbol.shows == f"part:{b.part}"]
    return theirs[0] if len(theirs) == 1 else None


def flows(drawn: Drawn, network: Network) -> None:
    """What an arrow says is what the first part below it carries, and the way it carries it."""
    for arrow in drawn.symbols:
        if not arrow.kind.startswith("flow-"):
            continue
        x, y = arrow.box.centre
        said = next(t for t in drawn.texts if t.shows == arrow.shows and t.x > x
                    and abs(t.box.centre[1] - y) < 0.6 and t.x - x < 4.0)  # fmt: skip
        lead = next(w for w in drawn.wires if on((x, y), w))
        foot = (x, lead.box.bottom)
        if any(s.kind == "joint" and on(s.box.centre, lead) and y < s.box.centre[1]
               for s in drawn.symbols):  # fmt: skip
            continue  # it divides before it comes to a part
        below = [s for s in drawn.symbols if same(ends_of(s)[0], foot)]
        branch = branch_of(below[0], network) if below else None
        if branch is None or branch.kind == "drive":
            continue
        assert branch.amps is not None
        assert said.text == with_unit(abs(branch.amps), "A")
        start = network.nodes[branch.ends[0]].net
        down = (branch.amps > 0) == (start == lead.net)
        assert arrow.kind == ("flow-down" if down else "flow-up")


def follows(text: Text, last: Text) -> bool:
    return text.shows == last.shows and text.x == last.x and 0 < text.y - last.y < 4.0


def bold_names(drawn: Drawn) -> Iterator[str]:
    """Names as they stand beside the symbols, their lines put together again."""
    lines: list[Text] = []
    for text in (*(t for t in drawn.texts if t.bold), None):
        if lines and (text is None or not follows(text, lines[-1])):
            yield "".join(t.text for t in lines)
            lines = []
        if text is not None:
            lines.append(text)


@pytest.mark.parametrize("paper", PAPER)
@pytest.mark.parametrize("name", SHIPPED)
def test_every_reading_of_every_spec_is_drawn_as_it_is(name: str, paper: Paper) -> None:
    check(SHIPPED[name], paper)


@pytest.mark.parametrize("seed", SEEDS)
def test_random_networks_are_drawn_as_they_are(seed: int) -> None:
    check(random_network(seed), ("a4", "letter")[seed % 2])  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(40))
def test_random_bridges_are_drawn_as_they_are(seed: int) -> None:
    check(random_network(seed, depth=3, bridges=0.6, blocking=0.0), "a4")


def test_leads_that_cross_a_rail_of_their_own_net_join_it_with_a_dot() -> None:
    """Found at random: a lead from above and one from below stood on the same line by chance."""
    check(random_network(1223, bridges=0.3, depth=4), "a4")


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("number", range(4))
def test_every_text_of_the_picture_is_text_in_the_pdf(number: int) -> None:
    """Every fourth shipped reading and a random one, as the pages of one document."""
    networks = [*list(SHIPPED.values())[number::4], random_network((3, 9, 33, 64)[number])]
    pages = [page for network in networks for page in circuit_view(network)]
    reader = pypdf.PdfReader(io.BytesIO(paint_pdf(pages)), strict=True)
    for page, scene in zip(reader.pages, pages, strict=True):
        found = squeezed(page.extract_text())
        assert [t.text for t in scene.texts if squeezed(t.text) not in found] == []


def texts_of(network: Network) -> str:
    return " ".join(text.text for scene in circuit_view(network) for text in scene.texts)


def made(parts: Sequence[str], nets: Sequence[str], reading: str = "") -> Network:
    """A reading r between the points IN and OUT, with a switch of one contact S1.C – S1.T."""
    reading = reading or "current: [IN, OUT], full_scale: 30 mA"
    body = "".join(f"      {part}\n" for part in parts)
    wiring = f"\n    parts:\n{body}    nets: [{', '.join(nets)}]\n"
    text = (
        "rewire: 1\ntitle: made\ncontrols: {TURN: [ON, OFF]}\n"
        "points: {IN: {}, OUT: {chassis: yes}}\n"
        f"readings:\n  r: {{when: {{TURN: ON}}, {reading}}}\n"
        f"wirings:\n  original:{wiring}  other:{wiring}"
    )
    spec = read_text(text.encode())
    return network_of(solved_of(spec, spec.original), next(iter(spec.original.readings)))


SWITCH = "S1: {switch: SPST, control: TURN, positions: {ON: 1, OFF: open}, lugs: [[C, T]]}"
METER = "M1: {meter: 1 mA, resistance: 100 ohm}"


def test_what_carries_no_current_is_left_out() -> None:
    """A part by one end, one that a closed contact bridges, one behind an open contact."""
    network = made(
        [SWITCH, METER, "R1: {resistor: 1 ohm}", "R2: {resistor: 5 ohm}", "R3: {resistor: 5 ohm}"],
        ["[IN, S1.C, R2.1, R3.1]", "[S1.T, R2.2, M1.+, R1.1]", "[M1.-, R1.2, OUT]"],
    )
    assert {b.part for b in network.branches} == {"S1", "M1", "R1"}
    check(network, "a4")


def test_what_lies_beside_the_meter_is_shown_though_it_blocks() -> None:
    network = made(
        [METER, "R1: {resistor: 1 ohm}", "C1: {capacitor: 10 nF}", "C2: {capacitor: 10 nF}"],
        ["[IN, R1.1, C2.1]", "[R1.2, M1.+, C1.1]", "[M1.-, C1.2, C2.2, OUT]"],
    )
    assert {b.part for b in network.branches} == {"R1", "M1", "C1"}
    check(network, "a4")


def test_a_diode_in_the_only_way_is_drawn_and_no_current_invented() -> None:
    network = made(
        [METER, "R1: {resistor: 1 ohm}", "D1: {diode: silicon}"],
        ["[IN, R1.1, D1.A]", "[D1.K, M1.+]", "[M1.-, R1.2, OUT]"],
    )
    assert {b.part for b in network.branches} == {"R1", "M1", "D1"}
    assert all(b.amps is None for b in network.branches)
    assert "calibrate against a known source" in texts_of(network)
    check(network, "a4")


def test_without_the_meters_resistance_no_flow_is_shown() -> None:
    network = made(
        ["M1: {meter: 1 mA, resistance: unknown}", "R1: {resistor: 1 ohm}"],
        ["[IN, R1.1, M1.+]", "[M1.-, R1.2, OUT]"],
    )
    scene = circuit_view(network)[0]
    assert not [s for s in scene.symbols if s.kind.startswith("flow")]
    assert "? Ω" in texts_of(network)
    assert "not known" in texts_of(network)
    check(network, "a4")


def test_a_standing_current_in_the_same_parts_is_drawn() -> None:
    network = made(
        [METER, "R1: {resistor: 1 ohm}", "R2: {resistor: 5 ohm}"],
        ["[IN, R1.1]", "[R1.2, R2.1, M1.+]", "[M1.-, R2.2, OUT]"],
        "current: [IN, OUT], full_scale: 30 mA, also: [{current: [R2.1, OUT], amount: 6 mA}]",
    )
    assert [b.amps for b in network.branches if b.kind == "drive"] == [6e-3]
    assert "6 mA" in texts_of(network)
    check(network, "a4")


def test_places_on_one_net_are_said_not_drawn() -> None:
    network = made([METER], ["[IN, OUT, M1.+]"])
    assert network.branches == ()
    assert "joined" in texts_of(network)


@pytest.mark.parametrize("count", [MOST_BRANCHES - 1, MOST_BRANCHES])
def test_a_ladder_is_drawn_up_to_the_limit_and_refused_beyond(count: int) -> None:
    rungs = count // 2
    parts = [METER, *(f"A{n}: {{resistor: 1 ohm}}" for n in range(rungs)),
             *(f"B{n}: {{resistor: 1 ohm}}" for n in range(rungs))]  # fmt: skip
    nets = [f"[A{n}.2, B{n}.1, A{n + 1}.1]" for n in range(rungs - 1)]
    ends = [f"B{n}.2" for n in range(rungs)]
    last = f"[A{rungs - 1}.2, B{rungs - 1}.1, M1.+]"
    network = made(parts, ["[IN, A0.1]", *nets, last, f"[OUT, M1.-, {', '.join(ends)}]"])
    if len(network.branches) > MOST_BRANCHES:
        with pytest.raises(LimitReached, match="reading r"):
            circuit_view(network)
        return
    check(network, "a4")


def test_names_cannot_hide() -> None:
    """Whatever a place is called is written out; nothing reaches the paper unseen."""
    for network in SHIPPED.values():
        for scene in circuit_view(network):
            assert all(visible(text.text) == text.text for text in scene.texts)
