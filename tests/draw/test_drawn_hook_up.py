"""The hook-up on the card, read back from its finished SVG: it is the plan, terminal by terminal.

Up to 24 wires it is one picture; beyond, each deck is drawn with what is soldered to it, and a lead
that goes to another deck says at both where its other end is.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from rewire.draw.scene import Text
from tests.draw.clips_back import clips_drawn
from tests.draw.contacts import closed_meant
from tests.draw.marred import FAULTS
from tests.draw.pictures_drawn import SPECS, at_random, shipped, svg
from tests.draw.readback import disagreements, read_back, wires_astray
from tests.draw.springs_back import contacts_drawn
from tests.reference.circuit import read_circuit

DRAWN = [path for path in SPECS if len(shipped(path).spec.wirings["substitute"].wires) <= 24]
SEVERAL = [12, 15, 23]
"""Random specs of several decks, with leads from one to another."""
SEEDS = 12
IN_ONE = 6
_MOST_UNSURE = 0.02
"""Share of numbers that may stand nearer to another wire than to their own."""
_MOST_REFUSED = 0.1
"""Share of random hook-ups that may be refused, so that the card has lug views in their place."""


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_the_hook_up_of_a_shipped_spec_is_its_plan(path: Path) -> None:
    one = shipped(path)
    assert one.on_card is not None
    read = read_back(svg(one.on_card), one.in_hook_up)
    assert read.troubles == ()
    assert read.nets == one.in_hook_up.nets


@pytest.mark.parametrize("seed", SEVERAL)
def test_a_random_hook_up_deck_by_deck_is_its_plan(seed: int) -> None:
    one = at_random(seed)
    assert one.by_decks is not None
    assert any("to " in item.text for item in one.by_decks.items if isinstance(item, Text))
    assert disagreements(svg(one.by_decks), one.in_hook_up) == []


@pytest.mark.parametrize("first", range(0, SEEDS, IN_ONE))
def test_random_hook_ups_are_their_plans_or_are_refused(first: int) -> None:
    refused = 0
    for seed in range(first, first + IN_ONE):
        one = at_random(seed)
        if one.hook_up is None:
            refused += 1
            continue
        read = read_back(svg(one.hook_up), one.in_hook_up)
        assert read.nets == one.in_hook_up.nets, seed
        loose = one.spec.wirings[one.wiring].cut_wires
        assert len(read.troubles) <= len(loose), seed
        assert all("on nothing" in trouble for trouble in read.troubles), seed
    assert refused <= 2


@pytest.mark.parametrize("name", ["monitor-jack", "relay-and-switch"])
def test_springs_touch_at_rest_what_the_spec_closes_first(name: str) -> None:
    one = shipped(next(path for path in SPECS if path.stem == name))
    parts = read_circuit(one.plain, one.wiring).parts
    (switch,) = (n for n, part in parts.items() if part.get("style") in ("relay", "jack"))
    assert one.on_card is not None
    found = dict(contacts_drawn(svg(one.on_card), one.in_hook_up))
    closed = closed_meant(one.plain, one.wiring)
    at = [groups for (part, _), groups in closed.items() if part == switch]
    assert set(found) == {group for groups in at for group in groups}
    assert {pair for pair, touches in found.items() if touches} == set(at[0])


SENSED = {
    "bench-supply": {"RS1": 0.0667},
    "linear-amplifier": {"R51": 0.5, "R52": 0.1},
    "relay-and-switch": {"R5": 5.0},
    "valve-amplifier": {"R31": 1.0},
}
"""Resistors that lie between the two places of a current reading, ohm, from the specs' own text."""


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_a_voltmeter_is_clipped_across_each_sense_resistor(path: Path) -> None:
    """Volts are amperes times ohms (Ohm's law); the meter beside it takes less than 1 %."""
    one, meant = shipped(path), SENSED.get(path.stem, {})
    assert one.on_card is not None
    for panel, known in ((one.on_card, one.in_hook_up), (one.circuit, one.in_circuit)):
        assert dict(clips_drawn(svg(panel), known)) == pytest.approx(meant, rel=0.011)


def test_numbers_stand_beside_their_own_wires() -> None:
    drawn = [*map(shipped, DRAWN), *map(at_random, range(SEEDS // 2))]
    reads = [
        (read_back(svg(one.hook_up), one.in_hook_up), one.in_hook_up)
        for one in drawn
        if one.hook_up is not None
    ]
    assert len(reads) >= (1.0 - _MOST_REFUSED) * len(drawn)
    wires = sum(len(known.wires) for _, known in reads)
    assert sum(len(list(wires_astray(*each))) for each in reads) <= _MOST_UNSURE * wires


@pytest.mark.parametrize("fault", [fault for fault in FAULTS if "names" not in fault])
@pytest.mark.parametrize("path", DRAWN, ids=lambda path: path.stem)
def test_a_hook_up_with_one_fault_is_not_the_plan(path: Path, fault: str) -> None:
    one = shipped(path)
    assert one.hook_up is not None
    painted = svg(one.hook_up)
    whole = set(disagreements(painted, one.in_hook_up))
    for seed in range(2):
        marred = FAULTS[fault](painted, random.Random(seed), one.in_hook_up)
        assert marred is None or set(disagreements(marred, one.in_hook_up)) - whole, seed
