"""Nobody gets hurt: making safe in one order, checks before settings, settings before power."""

from __future__ import annotations

import random
import re
from pathlib import Path
from typing import Any

import pytest

from rewire.bench.moves import moves_of, with_verdict
from rewire.bench.work_list import Moves
from rewire.reading import read_spec
from tests.bench.shipped import SPECS, shipped, shipped_moves
from tests.reading.builders import read
from tests.values.test_lug_volts import looks, multiplier, random_circuit

ROOT = Path(__file__).parents[2]
FLAGSHIP = ROOT / "specs" / "valve-amplifier.yaml"
ORDER = ("unplug", "wait", "open", "discharge", "prove")
DEEDS = {
    "unplug": r"unplug|(pull|draw).*plug|take (out|the)?.*batter|disconnect|cut off every",
    "wait": r"wait", "open": r"open the", "discharge": r"discharge|bleed every",
    "prove": r"prove dead|nothing is left",
}  # fmt: skip
BEFORE = (
    "unplug, wait five minutes, open the cover", "open the lid", "wait until the valves are cold",
    "discharge the reservoir with 10 kohm and measure that nothing is left",
    "pull the mains plug and both output valves", "draw the mains plug, discharge the bank",
    "mark every wire", "tell the next room",
)  # fmt: skip
AFTER = (
    "set P9 on the bench, known current", "power up and watch the lamp", "listen on each band",
    "with the plug out, buzz P0 to chassis: if open, stop", "adjust P9",
    "measure P0 to chassis with an ohmmeter", "switch on, 10 ohm across the output",
)  # fmt: skip


def written(seed: int) -> dict[str, Any]:
    """A random circuit whose plan has another switch, a pot, and a procedure in any order."""
    rng = random.Random(seed)
    spec = random_circuit(seed)
    original = spec["wirings"]["original"]
    renamed = {f"S1.{pole}{n}": f"S2.{pole}{n}" for pole in "AB" for n in ("", 1, 2)}

    def again(places: list[str]) -> list[str]:
        return [renamed.get(place, place) for place in places]

    parts = {
        "S2" if name == "S1" else name: {
            **p,
            **({"between": again(p["between"])} if "between" in p else {}),
        }
        for name, p in original["parts"].items()
    }
    parts["P9"] = {"pot": "100 ohm", "setting": "40 %"}
    wires = [again(pair) for pair in original["wires"]]
    spec["wirings"]["substitute"] = {"parts": parts, "wires": [*wires, ["P9.ccw", "M1.-"]]}
    spec["procedure"] = {
        "before": [{"do": text} for text in rng.sample(BEFORE, rng.randint(0, 4))],
        "after": [{"do": text} for text in rng.sample(AFTER, rng.randint(0, 5))],
    }
    return spec


def deeds(moves: Moves) -> list[int]:
    """Numbers in ``ORDER`` of what the first steps do."""
    told = [step.text.lower() for step in moves.steps if step.stage == "safe"]
    return [n for text in told for n, deed in enumerate(ORDER) if re.match(DEEDS[deed], text)]


def assert_in_order(moves: Moves) -> None:
    done = deeds(moves)
    assert done == sorted(done), [step.text for step in moves.steps if step.stage == "safe"]
    stages = [step.stage for step in moves.steps]
    if "set" in stages:
        first = stages.index("set")
        assert "after" in stages[:first]
        assert not {"after", "wires", "parts"} & set(stages[first:])
    if "power" in stages:
        assert set(stages[stages.index("power") :]) == {"power"}
    for step in moves.steps:
        text = step.text.lower()
        if "buzz" in text or "ohmmeter" in text:
            assert step.stage != "power", text
        if re.search(r"power up|power-up|switch on|listen", text):
            assert step.stage == "power", text
    told = [
        step for step in moves.steps if step.stage == "after" and "stop" in (step.caution or "")
    ]
    assert told, "before power: stop if anything is open"


@pytest.mark.parametrize("block", range(2))
def test_random_specs_hurt_nobody(block: int) -> None:
    """Live lugs by a nodal matrix of the test's own; the order by the words of the steps."""
    live = 0
    for seed in range(70 * block, 70 * block + 70):
        text = written(seed)
        spec = read(text)
        moves = moves_of(spec, "original", "substitute")
        assert_in_order(moves)
        sets = [step for step in moves.steps if step.kind == "set" and step.part == "P9"]
        assert len(sets) == 1, "a pot is set once"
        told = {lug for one in moves.live for lug in one.lugs}
        worst = [{p: v for p, v in look.items() if abs(v) >= 50.5} for look in looks(text)]
        hot = {place for look in worst for place in look}
        for step in moves.steps:
            if step.kind == "lift":
                for place in {step.place, step.other} & hot:
                    live += 1
                    assert place in told, (seed, place)
        assert all(abs(one.volts.volts) >= 49.9 for one in moves.live)
    assert live > 70


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_the_shipped_lists_are_in_order(path: Path) -> None:
    names = shipped(path).wirings
    for source in names:
        for target in names:
            moves = shipped_moves(path, source, target)
            if moves.steps:
                assert_in_order(moves)


def test_what_needs_the_power_off_again_stays_after_the_power_up_that_it_follows() -> None:
    """Valves that come out for the first power-up go in with the plug out, and after it."""
    moves = shipped_moves(FLAGSHIP, "as-found", "substitute")
    last = [step.text for step in moves.steps if step.stage == "power"]
    told = (
        "First power-up",
        "Power up without",
        "With the mains plug out again",
        "Power up, watch",
    )
    assert [text.startswith(one) for text, one in zip(last, told, strict=True)] == [True] * 4


def test_each_live_lug_stands_once_and_the_steps_done_dead_do_not_repeat_it() -> None:
    moves = shipped_moves(FLAGSHIP, "as-found", "substitute")
    lugs = [lug for one in moves.live for lug in one.lugs]
    assert len(lugs) == len(set(lugs))
    said = {lug: one.volts.said for one in moves.live for lug in one.lugs}
    assert said["S3.A3"] == "540 V (SCREEN_TAP)"
    assert said["M2.-"] == "540 V, through parts"
    assert "CHASSIS" not in said
    for step in moves.steps:
        if step.stage in ("lift", "remove", "jumpers", "parts", "wires"):
            assert "up to" not in (step.caution or "")
    (first,) = (s for s in moves.steps if s.stage == "power" and s.kind == "safety")
    assert "540 V" in (first.caution or "")
    assert "lamp in series" in first.text
    assert "load on the output" in first.text


def test_a_new_wire_states_the_insulation_it_needs() -> None:
    """540 V ask for 600 V, 3.2 kV for 5 kV: the next usual ratings; common practice, no source."""
    steps = shipped_moves(FLAGSHIP, "as-found", "substitute").steps
    notes = {(s.place, s.destination): s.note or "" for s in steps if s.kind in ("wire", "join")}
    assert "insulation 600 V or more" in notes["R45.1", "SCREEN_TAP"]
    assert "insulation 300 V or more" in notes["S4.A1", "S4.C1"]
    assert "insulation" not in notes["R45.2", "CHASSIS"]
    linear = read_spec(ROOT / "specs" / "linear-amplifier.yaml")
    steps = moves_of(linear, "as-found", "substitute").steps
    notes = {(s.place, s.destination): s.note or "" for s in steps if s.kind in ("wire", "join")}
    assert "insulation 5 kV or more" in notes["S2.B1", "B_MINUS"]
    assert not [s for s in steps if "serves" in s.text]


def test_a_wire_whose_stated_insulation_is_too_little_says_so() -> None:
    spec = multiplier()
    original = spec["wirings"]["original"]
    wire = {"from": "HT", "to": "S1.A1", "insulation": "300 V"}
    spec["wirings"]["substitute"] = {**original, "wires": [*original["wires"][3:], wire]}
    notes = [s.note or "" for s in moves_of(read(spec), "original", "substitute").steps]
    assert any("insulation 1 kV or more, the 300 V of the plan are too little" in n for n in notes)


@pytest.mark.parametrize("own", [None, "disconnect the battery", "pull the mains plug"])
@pytest.mark.parametrize("mains", ["", ", fed from the mains"])
def test_a_battery_word_leaves_no_other_supply_on(own: str | None, mains: str) -> None:
    """Neither a title nor a point's name proves that a set has no other supply."""
    spec = written(3) | {"title": f"Meter switch (battery check) of a receiver{mains}"}
    spec["points"] = {**spec["points"], "BATTERY": {"volts": "12 V"}}
    spec["procedure"] = {"before": [{"do": own}]} if own else {}
    moves = moves_of(read(spec), "original", "substitute")
    texts = [step.text for step in moves.steps if step.stage == "safe"]
    if own:
        assert (texts[0].lower(), texts[1]) == (own, "Every supply off")
        return
    general = texts[0]
    assert re.search("ut off every (other )?supply.*batter", general)
    assert ("Pull the mains plug" if mains else "mains plug") in general


def test_a_big_bank_is_bled_and_then_shorted() -> None:
    """Common practice, no source: a stick on a charged bank of kilovolts bursts something."""
    spec = read_spec(ROOT / "specs" / "linear-amplifier.yaml")
    safe = [s for s in moves_of(spec, "as-found", "substitute").steps if s.stage == "safe"]
    (discharge,) = (s for s in safe if re.match(r"bleed|discharge", s.text.lower()))
    said = f"{discharge.text} {discharge.caution}".lower()
    assert said.index("resistor") < said.index("short")
    assert "probe rated above 3.3 kV" in safe[-1].text


def test_the_meter_that_proves_dead_is_rated_for_it() -> None:
    safe = [s.text for s in shipped_moves(FLAGSHIP, "as-found", "substitute").steps]
    (prove,) = (text for text in safe if text.startswith("Prove dead"))
    assert "rated 600 V or more" in prove
    assert "before and after" in prove


def test_a_measurement_says_what_it_should_be() -> None:
    """HT_MINUS to chassis is R31 of 1 ohm; SCREEN_TAP to chassis the low leg of 440 ohm."""
    steps = shipped_moves(FLAGSHIP, "as-found", "substitute").steps
    told = {s.place: s.expects for s in steps if s.kind == "measure"}
    assert told["HT_MINUS"] == ("1 Ω",)
    assert told["SCREEN_TAP"][:2] == ("440 Ω", "440 Ω")


def test_a_measurement_names_the_positions_that_change_it() -> None:
    """A_PLUS has no switch lug on it; with the switch at A_BATT 3.2 kohm and 800 ohm lie from it
    to chassis, in the two others nothing does."""
    spec = read_spec(ROOT / "specs" / "portable-battery-check.yaml")
    steps = moves_of(spec, "as-found", "substitute").steps
    (step,) = (s for s in steps if s.kind == "measure" and s.place == "A_PLUS")
    at = [state["CHECK"] for state in step.states]
    assert dict(zip(at, step.expects, strict=True)) == {
        "RADIO": "open", "A_BATT": "4 kΩ", "B_BATT": "open",
    }  # fmt: skip


def test_a_broken_plan_says_so() -> None:
    spec = read_spec(FLAGSHIP)
    assert with_verdict(spec, moves_of(spec, "original", "as-found")).broken
    assert not with_verdict(spec, moves_of(spec, "as-found", "substitute")).broken
    assert not with_verdict(spec, moves_of(spec, "as-found", "original")).broken
