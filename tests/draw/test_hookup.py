"""The hook-up: everything soldered to a switch, each once, and nothing over anything else."""

from __future__ import annotations

import json
import random
from functools import cache
from pathlib import Path

import pytest

from rewire.draw.courses import Door, WireToRoute
from rewire.draw.hookup import hook_up
from rewire.draw.routing import routed, tracks_of
from rewire.draw.scene import MARGIN, Box, Line, Panel, Scene, Symbol, Text
from rewire.reading.read import read_spec, read_text
from rewire.records.spec import Spec, Wiring
from tests.draw.audit import audit
from tests.reference.strategies import random_spec

SPECS = Path(__file__).parents[2] / "specs"
CASES = ("bench-supply", "exciter-timing", "level-meter", "light-meter", "linear-amplifier",
         "monitor-jack", "portable-battery-check", "valve-amplifier")  # fmt: skip
SEEDS = range(20, 25)
WIDTH, HEIGHT = 190.0, 97.0


@cache
def case(of: str) -> tuple[Spec, Wiring]:
    """A shipped spec and the wiring that is to be built."""
    spec = read_spec(SPECS / f"{of}.yaml")
    return spec, spec.wirings["substitute"]


@cache
def picture(of: str) -> Panel:
    drawn = hook_up(*case(of), WIDTH, HEIGHT)
    assert drawn is not None
    return drawn


def scene_of(panel: Panel) -> Scene:
    items = panel.moved(MARGIN, MARGIN).items
    return Scene(panel.width + 2 * MARGIN, panel.height + 2 * MARGIN, items)


def symbols(panel: Panel, kind: str) -> list[str]:
    """What the symbols of a kind show, each as often as it is drawn."""
    return [i.shows for i in panel.items if isinstance(i, Symbol) and i.kind == kind]


def lines(panel: Panel) -> dict[str, list[Line]]:
    found: dict[str, list[Line]] = {}
    for item in panel.items:
        if isinstance(item, Line):
            found.setdefault(item.shows, []).append(item)
    return found


def named(panel: Panel) -> list[str]:
    """Parts and points that stand there by name."""
    words = [i for i in panel.items if isinstance(i, Text) and i.bold]
    return [i.shows for i in words if i.shows.startswith(("part:", "point:"))
            and i.text.split(" ")[0] == i.shows.partition(":")[2]]  # fmt: skip


@pytest.mark.parametrize("of", CASES)
def test_nothing_lies_over_anything_else(of: str) -> None:
    assert audit(scene_of(picture(of))) == []


@pytest.mark.parametrize("of", CASES)
def test_a_position_is_not_written_on_a_meter_or_a_pot(of: str) -> None:
    items = picture(of).items
    cases = [i.box for i in items if isinstance(i, Symbol) and i.backdrop and "part:" in i.shows]
    words = [i.box for i in items if isinstance(i, Text) and i.shows.startswith("position:")]
    assert not any(case.meets(word) for case in cases for word in words)


@pytest.mark.parametrize("of", CASES)
def test_no_word_is_smaller_than_eight_points(of: str) -> None:
    assert min(i.points for i in picture(of).items if isinstance(i, Text)) >= 8.0


@pytest.mark.parametrize("of", CASES)
def test_lines_of_wires_parts_and_frames_have_three_weights(of: str) -> None:
    drawn = (i for i in picture(of).items if isinstance(i, Line | Symbol))
    weights = {i.width for i in drawn if i.width}
    assert len(weights) <= 3, sorted(weights)


@pytest.mark.parametrize("of", CASES)
def test_every_wire_and_jumper_is_one_line(of: str) -> None:
    _, wiring = case(of)
    found = lines(picture(of))
    wires = [f"{'jumper' if wire.jumper else 'wire'}:{wire.id}" for wire in wiring.wires]
    assert [len(found.get(shows, [])) for shows in wires] == [1] * len(wires)


@pytest.mark.parametrize("of", CASES)
def test_every_part_and_every_point_in_use_is_there_once(of: str) -> None:
    spec, wiring = case(of)
    there = named(picture(of))
    parts = [f"part:{name}" for name in spec.parts_of(wiring)]
    joined = {end for wire in wiring.wires for end in wire.ends}
    joined |= {end for net in wiring.nets for end in net.members}
    joined |= {end for part in spec.parts_of(wiring).values() for end in part.between or ()}
    points = [f"point:{p.name}" for p in spec.points.values() if p.name in joined and not p.chassis]
    several = {part for part in parts if there.count(part) > 1}
    decks = {
        f"part:{name}" for name, part in spec.parts_of(wiring).items() if part.kind == "switch"
    }
    assert set(there) >= set(parts) | set(points)
    assert several <= decks
    assert [there.count(point) for point in points] == [1] * len(points)


@pytest.mark.parametrize("of", CASES)
def test_every_lug_of_a_switch_is_drawn_once(of: str) -> None:
    spec, wiring = case(of)
    drawn = [*symbols(picture(of), "lug"), *symbols(picture(of), "round")]
    lugs = [f"lug:{lug}" for part in spec.parts_of(wiring).values() if part.kind == "switch"
            for lug in part.full_terminals]  # fmt: skip
    assert [drawn.count(lug) for lug in lugs] == [1] * len(lugs)


@pytest.mark.parametrize("of", CASES)
def test_a_wire_with_a_colour_is_cased_and_one_without_is_not(of: str) -> None:
    _, wiring = case(of)
    found = lines(picture(of))
    for wire in wiring.wires:
        shows = f"{'jumper' if wire.jumper else 'wire'}:{wire.id}"
        assert {line.cased for line in found[shows]} == {wire.colour is not None}


def words(panel: Panel) -> str:
    return " ".join(item.text for item in panel.items if isinstance(item, Text))


def test_the_flagship_names_its_positions_its_dangers_and_what_must_stay() -> None:
    said = words(picture("valve-amplifier"))
    for word in ("BIAS", "CATHODE", "SCREEN", "⚡ 540 V", "⚡ −460 V", "196 Ω", "38.3 Ω", "M2 +",
                 "tag 4 of the bias", "never omit C, D", "the output valves run away"):  # fmt: skip
        assert word in said


def test_lug_places_that_the_spec_does_not_give_are_said_to_be_assumed() -> None:
    assert "Lug layout assumed" in words(picture("valve-amplifier"))


def test_a_way_to_join_a_net_is_dashed_and_said_to_be_a_proposal() -> None:
    panel = picture("valve-amplifier")
    nets = [line for shows, own in lines(panel).items() if shows.startswith("net:") for line in own]
    assert {line.dash for line in nets} == {"dashed"}
    assert "a proposal" in words(panel)


def crossings(panel: Panel) -> int:
    """Crossings of level and upright runs of two nets, outside the wafers' arcs."""
    runs = [(a, b, line.net) for own in lines(panel).values() for line in own
            for a, b in zip(line.points, line.points[1:], strict=False)
            if not line.shows.startswith("jumper")]  # fmt: skip
    level = [(min(a[0], b[0]), max(a[0], b[0]), a[1], net) for a, b, net in runs if a[1] == b[1]]
    upright = [(min(a[1], b[1]), max(a[1], b[1]), a[0], net) for a, b, net in runs if a[0] == b[0]]
    return sum(
        low < x < high and top < y < bottom and one != other
        for low, high, y, one in level for top, bottom, x, other in upright
    )  # fmt: skip


def test_few_wires_of_the_flagship_cross_and_it_fits_an_a4_card() -> None:
    """In the room that the card gives it."""
    panel = hook_up(*case("valve-amplifier"), 188.0, 90.0)
    assert panel is not None
    assert crossings(panel) <= 3
    assert panel.height <= 108.0


def test_the_same_wiring_gives_the_same_picture() -> None:
    assert hook_up(*case("light-meter"), WIDTH, HEIGHT) == picture("light-meter")


def test_random_hook_ups_are_clear_or_are_refused() -> None:
    refused = 0
    for seed in SEEDS:
        spec = read_text(json.dumps(random_spec(random.Random(seed), seed % 3)).encode())
        panel = hook_up(spec, spec.others[-1], WIDTH, HEIGHT)
        if panel is None:
            refused += 1
            continue
        assert audit(scene_of(panel)) == [], seed
    assert refused <= 1


def test_a_wire_is_routed_where_both_its_doors_are_in_the_room() -> None:
    luck = random.Random(5)
    room = Box(0.0, 0.0, 60.0, 40.0)
    for _ in range(60):
        ends = [(luck.uniform(-20.0, 80.0), luck.uniform(-20.0, 60.0)) for _ in range(2)]
        doors = [Door((end, end)) for end in ends]
        wish = WireToRoute("wire:W1", ((doors[0],), (doors[1],)))
        inside = all(0.0 <= x <= 60.0 and 0.0 <= y <= 40.0 for x, y in ends)
        assert bool(routed(tracks_of(room, [], doors), [wish])) == inside, ends
