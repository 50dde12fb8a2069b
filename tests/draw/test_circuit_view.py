"""Circuit views read back from their SVG: they are the network, legible, and tell what flows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from rewire.circuit.states import LimitReached
from rewire.draw.circuit import MOST_BRANCHES, circuit_panel, circuit_view
from rewire.draw.paint import paint_svg
from rewire.draw.scene import Line, Panel, Scene, Symbol, visible
from rewire.reading import read_spec, read_text
from rewire.values.meter_circuit import Solved
from rewire.values.reading_network import Network, NetworkBranch, network_of
from rewire.values.solved import solved_of
from rewire.words.quantity import with_unit
from tests.draw.audit import audit
from tests.draw.random_circuits import random_circuit
from tests.draw.readback import Vocabulary, disagreements

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
POLAR = {"meter": ("+", "-"), "diode": ("A", "K")}
ALONG, AGAINST = "→↓", "←↑"
One = tuple[Solved, str]


def shipped() -> Iterator[One]:
    for path in SPECS:
        spec = read_spec(path)
        for wiring in spec.wirings.values():
            solved = solved_of(spec, wiring)
            yield from ((solved, name) for name in wiring.readings)


SHIPPED = {
    f"{s.network.wiring.name} {name} {k}": (s, name) for k, (s, name) in enumerate(shipped())
}


def at_random(seed: int, **more: float) -> One:
    spec = read_text(random_circuit(seed, **more).encode())  # type: ignore[arg-type]
    return solved_of(spec, spec.original), next(iter(spec.original.readings))


def called(branch: NetworkBranch) -> Iterator[tuple[str, tuple[str, ...], tuple[str, str]]]:
    """A branch's name, its lugs, and what its two ends are called."""
    if branch.kind == "contact":
        lugs = tuple(lug.removeprefix(f"{branch.part}.") for lug in branch.terminals)
        yield branch.part, lugs, branch.terminals
    elif branch.kind in POLAR:
        plus, minus = POLAR[branch.kind]
        yield branch.part, (plus, minus), (f"{branch.part}.{plus}", f"{branch.part}.{minus}")
    else:
        name = "also" if branch.kind == "drive" else branch.part
        yield name, ("1", "2"), (name, name)


def known(network: Network) -> Vocabulary:
    """What the drawing must hold, by the network alone."""
    nets: list[list[str]] = [list(node.points) for node in network.nodes]
    lugs: dict[str, tuple[str, ...]] = {"source": ("1", "2")}
    turns, bodies = {"source"}, set()
    for end in (network.entry, network.exit):
        nets[end].append("source")
    for branch in network.branches:
        for name, own, ends in called(branch):
            lugs[name] = (*lugs.get(name, ()), *own) if branch.kind == "contact" else own
            turns |= {name} if branch.kind not in (*POLAR, "contact") else set()
            bodies |= {name} if branch.kind == "contact" else set()
            for node, terminal in zip(branch.ends, ends, strict=True):
                nets[node].append(terminal)
    once = ([*{t for t in net if t not in turns}, *(t for t in net if t in turns)] for net in nets)
    points = {point for node in network.nodes for point in node.points}
    chassis = {node.points[0] for node in network.nodes if node.chassis}
    return Vocabulary(
        lugs, frozenset(turns), frozenset(bodies), frozenset(points), frozenset(chassis),
        nets=Counter(tuple(sorted(net)) for net in once if len(net) > 1),
    )  # fmt: skip


def check(one: One) -> None:
    network = network_of(*one)
    assert [trouble for scene in circuit_view(*one) for trouble in audit(scene)] == []
    if not network.branches:
        return
    panel = circuit_panel(*one)
    items = [item for item in panel.items if item.shows]
    svg = paint_svg(Scene(panel.width, panel.height, tuple(items)))
    assert disagreements(svg, known(network)) == []
    for branch in network.branches:
        if branch.kind not in ("contact", "drive", "pot"):
            flows(panel, branch)


def flows(panel: Panel, branch: NetworkBranch) -> None:
    """What is said to flow in a part is what the network says, and the arrow points its way."""
    shows = f"part:{branch.part}"
    texts = [item.text for item in panel.items if item.shows == shows and hasattr(item, "text")]
    if branch.amps is None or abs(branch.amps) < 1e-15:
        assert not any(arrow in text for text in texts for arrow in ALONG + AGAINST)
        return
    (said,) = (text for text in texts if set(text) & set(ALONG + AGAINST))
    assert said.startswith(f"{with_unit(abs(branch.amps), 'A')} ")
    arrow = next(character for character in said if character in ALONG + AGAINST)
    symbol = next(i for i in panel.items if isinstance(i, Symbol) and i.shows == shows)
    box = symbol.box
    first = (box.centre[0], box.top) if arrow in "↓↑" else (box.left, box.centre[1])
    lines = [
        i for i in panel.items if isinstance(i, Line)
        and any(abs(x - first[0]) + abs(y - first[1]) < 0.01 for x, y in i.points)
    ]  # fmt: skip
    upstream = branch.ends[0] if (branch.amps > 0) == (arrow in ALONG) else branch.ends[1]
    assert (
        {line.shows for line in lines} == {f"net:{upstream}"}
        or not lines
        or any(
            line.shows.startswith("net:-")
            for line in lines  # its own end on chassis
        )
    )


@pytest.mark.parametrize("name", SHIPPED)
def test_every_reading_of_every_spec_is_drawn_as_it_is(name: str) -> None:
    check(SHIPPED[name])


def test_random_networks_are_drawn_as_they_are() -> None:
    """Rows, sets and bridges of as many parts as one position of a set may well have."""
    made = [at_random(seed) for seed in range(16)]
    made += [at_random(seed, depth=3, bridges=0.6, blocking=0.0) for seed in range(8)]
    small = [one for one in made if len(network_of(*one).branches) <= 12]
    assert len(small) > 11
    for one in small:
        check(one)


def texts_of(one: One) -> str:
    return " ".join(text.text for scene in circuit_view(*one) for text in scene.texts)


def made(parts: Sequence[str], nets: Sequence[str], reading: str = "") -> One:
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
    return solved_of(spec, spec.original), next(iter(spec.original.readings))


SWITCH = "S1: {switch: SPST, control: TURN, positions: {ON: 1, OFF: open}, lugs: [[C, T]]}"
METER = "M1: {meter: 1 mA, resistance: 100 ohm}"


def test_what_carries_no_current_is_left_out() -> None:
    """A part by one end, one that a closed contact bridges, one behind an open contact."""
    one = made(
        [SWITCH, METER, "R1: {resistor: 1 ohm}", "R2: {resistor: 5 ohm}", "R3: {resistor: 5 ohm}"],
        ["[IN, S1.C, R2.1, R3.1]", "[S1.T, R2.2, M1.+, R1.1]", "[M1.-, R1.2, OUT]"],
    )
    assert {b.part for b in network_of(*one).branches} == {"S1", "M1", "R1"}
    check(one)


def test_what_lies_beside_the_meter_is_shown_though_it_blocks() -> None:
    one = made(
        [METER, "R1: {resistor: 1 ohm}", "C1: {capacitor: 10 nF}", "C2: {capacitor: 10 nF}"],
        ["[IN, R1.1, C2.1]", "[R1.2, M1.+, C1.1]", "[M1.-, C1.2, C2.2, OUT]"],
    )
    assert {b.part for b in network_of(*one).branches} == {"R1", "M1", "C1"}
    check(one)


def test_a_diode_in_the_only_way_is_drawn_and_no_current_invented() -> None:
    one = made(
        [METER, "R1: {resistor: 1 ohm}", "D1: {diode: silicon}"],
        ["[IN, R1.1, D1.A]", "[D1.K, M1.+]", "[M1.-, R1.2, OUT]"],
    )
    assert {b.part for b in network_of(*one).branches} == {"R1", "M1", "D1"}
    assert all(b.amps is None for b in network_of(*one).branches)
    assert "calibrate against a known source" in texts_of(one)
    check(one)


def test_without_the_meters_resistance_no_flow_is_shown() -> None:
    one = made(
        ["M1: {meter: 1 mA, resistance: unknown}", "R1: {resistor: 1 ohm}"],
        ["[IN, R1.1, M1.+]", "[M1.-, R1.2, OUT]"],
    )
    assert not set(texts_of(one)) & set(ALONG + AGAINST)
    assert "? Ω" in texts_of(one)
    assert "not known" in texts_of(one)
    check(one)


def test_a_standing_current_in_the_same_parts_is_drawn() -> None:
    one = made(
        [METER, "R1: {resistor: 1 ohm}", "R2: {resistor: 5 ohm}"],
        ["[IN, R1.1]", "[R1.2, R2.1, M1.+]", "[M1.-, R2.2, OUT]"],
        "current: [IN, OUT], full_scale: 30 mA, also: [{current: [R2.1, OUT], amount: 6 mA}]",
    )
    assert [b.amps for b in network_of(*one).branches if b.kind == "drive"] == [6e-3]
    assert "6 mA" in texts_of(one)
    check(one)


def test_places_on_one_net_are_said_not_drawn() -> None:
    one = made([METER], ["[IN, OUT, M1.+]"])
    assert network_of(*one).branches == ()
    assert "shorted" in texts_of(one)


@pytest.mark.parametrize("count", [MOST_BRANCHES - 1, MOST_BRANCHES])
def test_a_ladder_is_drawn_up_to_the_limit_and_refused_beyond(count: int) -> None:
    rungs = count // 2
    parts = [METER, *(f"A{n}: {{resistor: 1 ohm}}" for n in range(rungs)),
             *(f"B{n}: {{resistor: 1 ohm}}" for n in range(rungs))]  # fmt: skip
    nets = [f"[A{n}.2, B{n}.1, A{n + 1}.1]" for n in range(rungs - 1)]
    ends = [f"B{n}.2" for n in range(rungs)]
    last = f"[A{rungs - 1}.2, B{rungs - 1}.1, M1.+]"
    one = made(parts, ["[IN, A0.1]", *nets, last, f"[OUT, M1.-, {', '.join(ends)}]"])
    if len(network_of(*one).branches) > MOST_BRANCHES:
        with pytest.raises(LimitReached, match="reading r"):
            circuit_view(*one)
        return
    check(one)


def test_names_cannot_hide() -> None:
    """Whatever a place is called is written out; nothing reaches the paper unseen."""
    for one in SHIPPED.values():
        for scene in circuit_view(*one):
            assert all(visible(text.text) == text.text for text in scene.texts)
