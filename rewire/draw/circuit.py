"""The circuit of one reading in one position: what carries it, and what flows there.

Drawn as the circuit of the whole wiring is, with the source that drives the reading and of every
pole the one contact that is closed.
"""

from __future__ import annotations

from collections.abc import Iterator

from rewire.circuit.states import LimitReached
from rewire.draw.diagram import Diagram, DrawnNet, DrawnPart, DrawnPole, Said
from rewire.draw.scene import MARGIN, PAPER, Item, Panel, Paper, Scene, paragraphs
from rewire.draw.schematic import drawn_in
from rewire.draw.sheets import on_a_sheet
from rewire.records.switches import Switch
from rewire.values.meter_circuit import Solved
from rewire.values.reading_network import Network, NetworkBranch, network_of
from rewire.words.quantity import in_ohms, with_unit

MOST_BRANCHES = 40
"""More symbols than this make no picture that can be read."""
_POINTS, _TITLE = 8.0, 11.0
_APART = 3.0
"""Over and under the drawing, mm."""


def circuit_view(solved: Solved, reading: str, paper: Paper = "a4") -> tuple[Scene, ...]:
    """What carries one reading in one position, on one sheet: a larger one where it must be.

    Raises:
        LimitReached: more than 40 parts and contacts.
    """
    panel = circuit_panel(solved, reading, paper)
    return (on_a_sheet(panel, paper, title_of(network_of(solved, reading))),)


def circuit_panel(solved: Solved, reading: str, paper: Paper = "a4") -> Panel:
    """The same as a panel: title, drawing, caption. It may be larger than the paper.

    Raises:
        LimitReached: more than 40 parts and contacts.
    """
    network = network_of(solved, reading)
    if len(network.branches) > MOST_BRANCHES:
        raise LimitReached(
            f"reading {reading}: {len(network.branches)} parts and contacts carry "
            f"it in {network.wiring}, more than the {MOST_BRANCHES} a circuit view can show"
        )
    width = PAPER[paper][0] - 2 * MARGIN
    title, y = paragraphs([(title_of(network), _TITLE, True)], width)
    items: list[Item] = [*title]
    if network.branches:
        drawn = drawn_in(_diagram(solved, network), width)
        items += drawn.moved(0.0, y + _APART).items
        y += drawn.height + 2 * _APART
        width = max(width, drawn.width)
    said, tall = paragraphs([(one, _POINTS, False) for one in _caption(network)], width)
    return Panel((*items, *(text.moved(0.0, y) for text in said)), width, y + tall)


# Words over and under the drawing ---------------------------------------------------------


def title_of(network: Network) -> str:
    """Wiring, reading, position and full scale."""
    at = ", ".join(f"{control} at {position}" for control, position in network.state.items())
    said = [f"{network.wiring}: {network.reading.name}", at, f"full scale {_full(network)}"]
    return ", ".join(one for one in said if one)


def _full(network: Network) -> str:
    unit = "A" if network.reading.quantity == "current" else "V"
    return with_unit(network.reading.full_scale, unit)


def _caption(network: Network) -> Iterator[str]:
    """Where the pointer stands at full scale, and what else to know."""
    one, other = network.reading.places
    if network.deflection is not None:
        percent = f"{100.0 * network.deflection:.2f}".rstrip("0").rstrip(".")
        beyond = ", beyond its end" if network.deflection > 1.05 else ""
        yield (
            f"At {_full(network)} from {one} to {other}, {network.meter} takes "
            f"{with_unit(network.meter_amps, 'A')} and stands at {percent} % of its scale{beyond}."
        )
    if network.insertion_ohms is not None:
        yield f"Between the two points the set sees {in_ohms(network.insertion_ohms)}."
    if network.deflection is not None and network.deflection < -1e-9:
        yield "The current goes through the meter from − to +."
    for drive in network.apart:
        yield (
            f"{with_unit(drive.amps, 'A')} flow from {drive.places[0]} to {drive.places[1]} as "
            "well, through nothing that is drawn here."
        )
    if network.reading.ac:
        yield "AC: rms values, resistances alone."
    if network.why:
        yield f"{network.why[0].upper()}{network.why[1:]}."


# What is drawn ------------------------------------------------------------------------------


def _diagram(solved: Solved, network: Network) -> Diagram:
    """Source, parts and closed contacts on the nets that they join."""
    nets = [DrawnNet(n, n, n, n, (node.chassis, node.chassis))
            for n, node in enumerate(network.nodes)]  # fmt: skip
    points = {name: net for node, net in zip(network.nodes, nets, strict=True)
              for name in node.points}  # fmt: skip
    contacts = [branch for branch in network.branches if branch.kind == "contact"]
    parts = [branch for branch in network.branches if branch.kind != "contact"]
    return Diagram(
        solved.spec,
        tuple(_contact(solved, branch, nets) for branch in contacts),
        (_source(network, nets), *(_part(branch, nets) for branch in parts)),
        points,
    )


def _contact(solved: Solved, branch: NetworkBranch, nets: list[DrawnNet]) -> DrawnPole:
    """A closed contact, its common at the left; one leg of a bar has one lug."""
    switch = solved.spec.all_of(Switch, solved.network.wiring)[branch.part]
    order = [lug for section in switch.sections for lug in section.lugs]
    ends = [(terminal.removeprefix(f"{switch.name}."), nets[end])
            for terminal, end in zip(branch.terminals, branch.ends, strict=True)]  # fmt: skip
    ends.sort(key=lambda one: order.index(one[0]) if one[0] in order else len(order))
    lugs, on = zip(*ends, strict=True)
    return DrawnPole(switch, f"{switch.name} ", tuple((lug,) for lug in lugs), on, (((0, 1),),))


def _part(branch: NetworkBranch, nets: list[DrawnNet]) -> DrawnPart:
    """A part with its value, the volts across it and the current in it."""
    on = tuple(nets[end] for end in branch.ends)
    if branch.kind == "drive":
        leaves_at, enters = branch.terminals
        said = Said(f"{branch.value} from {enters} to {leaves_at}")
        return DrawnPart("also", "current", said, on)
    drop = abs(branch.volts or 0.0)
    volts = with_unit(drop, "V") if drop >= 1e-12 else ""
    said = Said(branch.value, volts=volts, amps=branch.amps or 0.0)
    symbol = "rheostat" if branch.kind == "pot" else branch.kind
    letter = branch.value.partition(",")[0].rpartition(" ")[2] if symbol == "meter" else ""
    return DrawnPart(branch.part, symbol, said, on, symbol in ("meter", "diode"), letter)


def _source(network: Network, nets: list[DrawnNet]) -> DrawnPart:
    """What drives the reading; a current runs from the second place to the first in it."""
    reading, current = network.reading, network.reading.quantity == "current"
    value = [_full(network), *(["AC"] if reading.ac else [])]
    if reading.source_resistance and not current:
        value.append(f"behind {in_ohms(reading.source_resistance)}")
    found, unit = (network.volts, "V") if current else (network.amps, "A")
    told = "" if found is None else with_unit(found, unit)
    ends = (nets[network.entry], nets[network.exit])
    said = Said(" ".join(value), volts=told)
    if current:
        return DrawnPart("source", "current", said, ends[::-1])
    return DrawnPart("source", "voltage", said, ends, polar=True)
