"""Buzzing out, against an ohmmeter of the tests' own on the spec's plain mapping."""

from __future__ import annotations

import copy
import json
import random
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from rewire.bench.diagnosis import diagnosed, next_touch, not_excluded, questions
from rewire.bench.evidence import TouchReading, contradictions
from rewire.bench.mistakes import Mistake
from rewire.bench.ohmmeter import BEEPS, LEADS, LEAKS, METER, Edit, Touch, apply, differs, readings
from rewire.bench.probes import Probe
from rewire.bench.short_list import Plan, plan_of
from rewire.reading import read_spec
from rewire.reading.read import read_text
from rewire.records.spec import Spec
from rewire.report.measured import rectified
from rewire.values.solved import solved_of
from tests.bench.ohmmeter import Between, Ohmmeter, mistaken
from tests.reference.generate import resistances_known
from tests.reference.strategies import random_spec

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
LARGE = {"bandswitch"}
"""Measured by the tests' ohmmeter at fewer mistakes: it takes seconds for each."""
SMALL = [path for path in SPECS if path.stem not in LARGE]
MANY = 3
"""States in which the tests' ohmmeter reads a wiring and its mistakes."""
Case = tuple[Spec, Plan, Ohmmeter]


def planned(spec: Spec, raw: dict[str, Any], wiring: str, seconds: float) -> Case:
    """A plan without a long search for the shortest list, and the ohmmeter beside it."""
    plan = plan_of(spec, spec.wirings[wiring], seconds=seconds)
    worked = solved_of(spec, spec.wirings[wiring])
    fitted = {
        value.part: float(found[0])
        for value, found in zip(worked.network.values, worked.values, strict=True)
        if found is not None
    }
    return spec, plan, Ohmmeter(raw, wiring, fitted)


@cache
def shipped(path: Path, wiring: str = "substitute") -> Case:
    raw = yaml.load(path.read_bytes(), Loader=yaml.BaseLoader)
    return planned(read_spec(path), raw, wiring, seconds=1.0)


def made(seed: int, seconds: float) -> Case | None:
    raw = random_spec(random.Random(seed), size=seed % 3)
    if not resistances_known(raw):
        return None
    return planned(read_text(json.dumps(raw).encode()), raw, "substitute", seconds)


def some(plan: Plan, rng: random.Random, count: int) -> list[Mistake]:
    """Mistakes of every kind, as many of each as there is room for; two if there is none."""
    kinds: dict[str, list[Mistake]] = {}
    for mistake in plan.mistakes:
        kinds.setdefault(mistake.kind, []).append(mistake)
    each = max(1, count // len(kinds)) if kinds else 0
    found = [m for own in kinds.values() for m in rng.sample(own, min(each, len(own)))]
    return found if count > 1 else rng.sample(found, 2)


def measured(plan: Plan, meter: Ohmmeter, touches: list[Touch]) -> np.ndarray[Any, Any]:
    """What the tests' own ohmmeter reads at some touches."""
    by_state = {n: meter.all_ohms(plan.job.states[n]) for n in {one.state for one in touches}}
    return picked(plan, by_state, touches)


def on_the_bench(plan: Plan, meter: Ohmmeter, touches: list[Touch]) -> np.ndarray[Any, Any]:
    """The same, with some number through a meter for AC too."""
    at = {one.state for one in touches}
    by_state = {n: meter.through_rectifiers(plan.job.states[n]) for n in at}
    return picked(plan, by_state, touches)


def picked(plan: Plan, by_state: dict[int, Between], touches: list[Touch]) -> np.ndarray[Any, Any]:
    names = [[plan.job.network.names[end] for end in touch.ends] for touch in touches]
    pairs = zip(touches, names, strict=True)
    return np.array([by_state[touch.state](frozenset(pair)) for touch, pair in pairs])


def told(
    touches: list[Touch], ohms: np.ndarray[Any, Any], rng: random.Random
) -> list[TouchReading]:
    """Readings as a person writes them down: leads and meter a little off, beeps as closed."""
    found = []
    for touch, value in zip(touches, ohms, strict=True):
        read = value * (1.0 + rng.uniform(-1.0, 1.0) * METER / 2.0) + rng.uniform(0.0, LEADS / 2.0)
        if value >= LEAKS:
            found.append(TouchReading(touch, "open"))
        elif value == 0.0 and rng.random() < 0.7:
            found.append(TouchReading(touch, "closed"))
        else:
            found.append(TouchReading(touch, "ohms", read))
    return found


def same(one: np.ndarray[Any, Any], other: np.ndarray[Any, Any]) -> bool:
    close = np.isclose(one, other, rtol=1e-6, atol=1e-9, equal_nan=True)
    return bool(np.all((one == other) | close))


def agrees_and_shows_all(case: Case, rng: random.Random, count: int, many: int = MANY) -> None:
    """The program reads what the tests' ohmmeter reads, on the wiring and on mistaken ones; and
    whatever any touch of the full table shows, some touch of the short list shows.

    In many states the tests' ohmmeter reads some of them.
    """
    spec, plan, meter = case
    short = set(plan.shortlist.chosen)
    touches, states = list(plan.shown.touches), range(len(plan.job.states))
    read = set(rng.sample(states, min(many, len(states))))
    ours = [n for n, touch in enumerate(touches) if touch.state in read]
    here = [touches[n] for n in ours]
    right = plan.shown.ohms
    assert same(right[ours], measured(plan, meter, here))
    for mistake in some(plan, rng, count):
        wrong = readings(plan.job.network, [mistake.edit], plan.job.states, touches)[:, 0]
        with_ours = measured(plan, mistaken(meter, spec, plan.wiring, mistake), here)
        assert same(wrong[ours], with_ours), mistake.text
        shown = np.nonzero(differs(right, wrong, plan.shown.spread))[0]
        assert not len(shown) or short.intersection(shown.tolist()), mistake.text


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_readings_and_short_list_on_shipped_specs(path: Path) -> None:
    case = shipped(path)
    if path.stem in LARGE:
        agrees_and_shows_all(case, random.Random(2), count=1, many=1)
    else:
        agrees_and_shows_all(case, random.Random(2), count=30)
    shortlist = case[1].shortlist
    assert shortlist.at_least <= len(shortlist.chosen)


@pytest.mark.parametrize("chunk", range(4))
def test_readings_on_random_specs(chunk: int) -> None:
    for seed in range(4 * chunk, 4 * chunk + 4):
        case = made(seed, seconds=0.0)
        if case is not None:
            agrees_and_shows_all(case, random.Random(seed), 12)


@pytest.mark.parametrize("chunk", range(4))
def test_short_list_on_random_specs(chunk: int) -> None:
    for seed in range(1000 + 3 * chunk, 1003 + 3 * chunk):
        case = made(seed, seconds=1.0)
        if case is not None:
            agrees_and_shows_all(case, random.Random(seed), 30)


def contradicted(
    found: list[TouchReading], there: np.ndarray[Any, Any], spread: np.ndarray[Any, Any]
) -> bool:
    """Whether a mistake cannot be what was written down.

    A beep does not tell nothing from some ohms. A number may be twice as far off as leads, meter
    and tolerances account for: before what is that unlikely may stand what is so by itself.
    """
    for one, ohms, share in zip(found, there, spread, strict=True):
        if one.told == "open" or ohms >= LEAKS:
            apart = one.told != "open" or ohms < LEAKS
        elif one.told == "closed":
            apart = ohms > BEEPS
        else:
            assert one.ohms is not None
            most = max(one.ohms, ohms)
            apart = abs(one.ohms - ohms) > 2.0 * (LEADS + (METER + share + 0.1) * most)
        if apart:
            return True
    return False


def found_out(case: Case, mistake: Mistake, touches: list[Touch], rng: random.Random) -> None:
    """The true mistake is a suspect, and whoever stands before it reads as was written down."""
    spec, plan, meter = case
    wrong = mistaken(meter, spec, plan.wiring, mistake)
    found = told(touches, on_the_bench(plan, wrong, touches), rng)
    diagnosis = diagnosed(plan, found, seconds=0.0)
    if not diagnosis.odd:
        return
    number = {touch: n for n, touch in enumerate(plan.shown.touches)}
    spread = plan.shown.spread[[number[touch] for touch in touches]]
    for suspect in diagnosis.suspects:
        everybody = (suspect.mistakes, *suspect.alike)
        if (mistake,) in everybody:
            return
        other = mistaken(meter, spec, plan.wiring, suspect.mistakes[0])
        there = measured(plan, other, touches)
        assert not contradicted(found, there, spread), (
            f"{suspect.mistakes[0].text} before {mistake.text}"
        )
    pytest.fail(f"{mistake.text} is no suspect")


@pytest.mark.parametrize("path", SMALL, ids=lambda path: path.stem)
def test_true_mistake_by_the_short_list_of_shipped_specs(path: Path) -> None:
    case, rng = shipped(path), random.Random(3)
    plan = case[1]
    touches = [plan.shown.touches[n] for n in plan.shortlist.chosen]
    for mistake in some(plan, rng, 4):
        found_out(case, mistake, touches, rng)


@pytest.mark.parametrize("chunk", range(4))
def test_true_mistake_on_random_specs(chunk: int) -> None:
    for seed in range(2000 + 2 * chunk, 2002 + 2 * chunk):
        case = made(seed, seconds=0.0)
        if case is None:
            continue
        rng, plan = random.Random(seed), case[1]
        for mistake in some(plan, rng, 9):
            found_out(case, mistake, list(plan.shown.touches), rng)


@pytest.mark.parametrize("seed", range(9))
def test_a_resistor_of_another_value_is_among_the_first_three(seed: int) -> None:
    """The full table read on a wiring with one resistor 1/300 to 300 times its value."""
    rng = random.Random(seed)
    spec, plan, meter = shipped(SMALL[seed % len(SMALL)])
    names = [p.name for p in spec.parts_of(plan.wiring).values() if type(p).__name__ == "Resistor"]
    touches = list(plan.shown.touches)
    right = measured(plan, meter, touches)
    for name in rng.sample(names, min(2, len(names))):
        wrong = copy.deepcopy(meter)
        wrong.factor[name] = 10.0 ** rng.choice((-2.5, -1.4, -0.6, 0.6, 1.4, 2.5))
        there = measured(plan, wrong, touches)
        if differs(right, there, plan.shown.spread).sum() == 0:
            continue
        diagnosis = diagnosed(
            plan, told(touches, on_the_bench(plan, wrong, touches), rng), seconds=0.0
        )
        first = [m for s in diagnosis.suspects[:3] for m in (s.mistakes, *s.alike)]
        assert any(m.part == name for one in first for m in one), (name, wrong.factor[name])


@pytest.mark.parametrize("seed", range(9))
def test_a_beep_where_a_shunt_must_be_read_settles_nothing(seed: int) -> None:
    """The shunt may be shorted: a beeper sounds through it either way."""
    rng = random.Random(seed)
    _, plan, meter = shipped(SMALL[seed % len(SMALL)])
    touches = list(plan.shown.touches)
    ohms = measured(plan, meter, touches)
    low = [n for n, value in enumerate(ohms) if LEADS < value <= BEEPS]
    if not low:
        return
    some_of_them = set(rng.sample(low, min(3, len(low))))
    found = [
        TouchReading(touch, "closed")
        if n in some_of_them
        else TouchReading(touch, "ohms", float(ohms[n]))
        for n, touch in enumerate(touches)
        if ohms[n] < LEAKS
    ]
    diagnosis = diagnosed(plan, found, seconds=0.0)
    assert diagnosis.verdict == "not settled"
    assert {diagnosis.seen.found[n].touch for n in diagnosis.only_beeped} == {
        touches[n] for n in some_of_them
    }


def test_left_out_bias_jumper_is_the_first_suspect() -> None:
    """The flagship's substitute without the jumper that brings the bias to R46."""
    spec, plan, meter = shipped(SPECS[[p.stem for p in SPECS].index("valve-amplifier")])
    jumper = next(m for m in plan.mistakes if m.kind == "left out" and m.wire == "J6")
    wrong = mistaken(meter, spec, plan.wiring, jumper)
    for touches in (
        [plan.shown.touches[n] for n in plan.shortlist.chosen],
        [plan.job.touch(probe.state, probe.between) for probe in plan.table],
    ):
        found = told(touches, on_the_bench(plan, wrong, touches), random.Random(4))
        diagnosis = diagnosed(plan, found, seconds=0.0)
        assert diagnosis.verdict == "wrong"
        assert diagnosis.suspects[0].mistakes == (jumper,)
        assert not diagnosis.suspects[0].contradicts


@pytest.mark.parametrize("seed", range(9))
def test_right_wiring_is_good_in_spite_of_leads(seed: int) -> None:
    _, plan, meter = shipped(SMALL[seed % len(SMALL)])
    touches = list(plan.shown.touches)
    found = told(touches, on_the_bench(plan, meter, touches), random.Random(seed))
    diagnosis = diagnosed(plan, found, seconds=0.0)
    assert (diagnosis.verdict, diagnosis.contradictions) == ("good", ())
    assert not_excluded(plan, found) == 0


@pytest.mark.parametrize("seed", range(10))
def test_one_wrong_reading_does_not_hide_the_mistake(seed: int) -> None:
    """One reading of the full table turned round; the mistake stays the first suspect."""
    rng = random.Random(seed)
    spec, plan, meter = shipped(SMALL[seed % len(SMALL)])
    seen = [m for m, is_seen in zip(plan.mistakes, plan.shown.seen, strict=True) if is_seen]
    mistake = rng.choice([m for m in seen if m.kind in ("left out", "bridge", "exchanged")])
    touches = list(plan.shown.touches)
    ohms = on_the_bench(plan, mistaken(meter, spec, plan.wiring, mistake), touches)
    turned = rng.randrange(len(ohms))
    ohms[turned] = 0.0 if ohms[turned] == np.inf else np.inf
    first = diagnosed(plan, told(touches, ohms, rng), seconds=0.0).suspects[0]
    assert (mistake,) in (first.mistakes, *first.alike)


@pytest.mark.parametrize("path", SMALL, ids=lambda path: path.stem)
def test_a_wire_with_both_ends_on_wrong_lugs_is_still_one_wire(path: Path) -> None:
    """Read by the tests' own ohmmeter, with the second end moved on the wiring of the first."""
    rng, (spec, plan, meter) = random.Random(6), shipped(path)
    touches = list(plan.shown.touches)
    slips = [m for m in plan.mistakes if m.kind == "wrong lug"]
    for first in rng.sample(slips, 6):
        far = [m for m in slips if m.wire == first.wire and m.lugs[0] not in first.lugs]
        second = rng.choice(far)
        wrong = mistaken(mistaken(meter, spec, plan.wiring, first), spec, plan.wiring, second)
        there = measured(plan, wrong, touches)
        network = apply(plan.job.network, first.edit)
        here = readings(network, [second.edit], plan.job.states, touches)[:, 0]
        assert same(here, there), (first.text, second.text)
        both = readings(apply(network, second.edit), [Edit()], plan.job.states, touches)[:, 0]
        assert same(both, there), (first.text, second.text)


@pytest.mark.parametrize("seed", range(6))
def test_two_mistakes_at_once(seed: int) -> None:
    """Two wires left out that both show: the two are the first suspects, or read the same."""
    rng = random.Random(seed)
    spec, plan, meter = shipped(next(p for p in SPECS if p.stem == "monitor-jack"))
    seen = [m for m, is_seen in zip(plan.mistakes, plan.shown.seen, strict=True) if is_seen]
    first, second = rng.sample([m for m in seen if m.kind in ("left out", "open")], 2)
    wrong = mistaken(meter, spec, plan.wiring, first)
    meter = copy.deepcopy(meter)
    if second.kind == "left out" and first.kind == "left out":
        wires = [w.id for w in plan.wiring.wires]
        for number in sorted((wires.index(str(m.wire)) for m in (first, second)), reverse=True):
            del meter.spec["wirings"]["substitute"]["wires"][number]
        wrong = meter
    else:
        wrong = (
            mistaken(wrong, spec, plan.wiring, second)
            if second.kind == "open"
            else mistaken(mistaken(meter, spec, plan.wiring, second), spec, plan.wiring, first)
        )
    touches = list(plan.shown.touches)
    ohms = on_the_bench(plan, wrong, touches)
    diagnosis = diagnosed(plan, told(touches, ohms, rng), seconds=60.0)
    best = diagnosis.suspects[0]
    assert not best.contradicts
    texts = [{m.text for m in one} for one in (best.mistakes, *best.alike)]
    if diagnosis.search is not None:
        assert diagnosis.search.is_whole
        both = readings(_applied(plan, best.mistakes), [Edit()], plan.job.states, touches)[:, 0]
        assert {first.text, second.text} in texts or not differs(
            ohms, both, np.full(len(ohms), 0.1)
        ).any()


def _applied(plan: Plan, mistakes: tuple[Mistake, ...]) -> Any:
    network = plan.job.network
    for mistake in mistakes:
        network = apply(network, mistake.edit)
    return network


@pytest.mark.parametrize("seed", range(8))
def test_wizard_finds_what_is_wrong(seed: int) -> None:
    """Answered by the tests' ohmmeter, it ends, and names the mistake or one that reads alike."""
    rng = random.Random(seed)
    spec, plan, meter = shipped(SMALL[seed % len(SMALL)])
    seen = [m for m, is_seen in zip(plan.mistakes, plan.shown.seen, strict=True) if is_seen]
    mistake = rng.choice([m for m in seen if m.kind != "wrong lug"])
    wrong = mistaken(meter, spec, plan.wiring, mistake)
    asked = questions(plan)
    found: list[TouchReading] = []
    while (touch := next_touch(asked, found, [])) is not None:
        found += told([touch], on_the_bench(plan, wrong, [touch]), rng)
        assert len(found) < 80
    everything = list(plan.shown.touches)
    best = diagnosed(plan, found, seconds=0.0).suspects[0]
    truth = measured(plan, wrong, everything)
    guess = measured(plan, mistaken(meter, spec, plan.wiring, best.mistakes[0]), everything)
    spread = plan.shown.spread
    assert (mistake,) in (best.mistakes, *best.alike) or not differs(
        truth, guess, spread + 0.1
    ).any(), f"{best.mistakes[0].text} for {mistake.text} after {len(found)}"


@pytest.mark.parametrize("seed", range(9))
def test_contradictions(seed: int) -> None:
    """True readings never contradict each other; one opened beside a closed way does."""
    rng = random.Random(seed)
    _, plan, meter = shipped(SMALL[seed % len(SMALL)])
    touches = [t for t in plan.shown.touches if t.state == 0]
    ohms = on_the_bench(plan, meter, touches)
    found = told(touches, ohms, rng)
    assert not list(contradictions(found))
    closed = [n for n, value in enumerate(ohms) if value == 0.0]
    ends = [set(touches[n].ends) for n in closed]
    doubled = [n for n in closed if sum(bool(set(touches[n].ends) & e) for e in ends) > 2]
    for number in doubled:
        on_a_way = [
            e for e in ends if e != set(touches[number].ends) and e & set(touches[number].ends)
        ]
        if any(a ^ b == set(touches[number].ends) for a in on_a_way for b in on_a_way):
            lied = [*found]
            lied[number] = TouchReading(touches[number], "open")
            assert number in {one.reading for one in contradictions(lied)}
            break


def test_table_says_what_it_counts_on() -> None:
    """Spread and overload of a touch, against sums by hand.

    Flagship, METER at BIAS, S4.A2 (on chassis) to M2.-: closed; S4.B to S4.B2: R42 and R31 in
    series, 249 and 1 ohm of 1 %: 250 ohm within 1 %.
    """
    _, plan, _ = shipped(next(p for p in SPECS if p.stem == "valve-amplifier"))
    probes = {(p.state["METER"], p.between): p for p in plan.table}
    series = probes["BIAS", ("S4.B", "S4.B2")]
    assert series.ohms == pytest.approx(250.0, rel=1e-9)
    assert series.spread == pytest.approx(0.01, rel=1e-3)


def test_overload_of_a_delicate_movement() -> None:
    """A movement of 50 uA alone between two places takes all of the test's milliampere."""
    text = b"""
rewire: 1
title: t
points: {A: {}, B: {}, C: {}}
parts: {M1: {meter: 50 uA, resistance: 2 kohm}, R1: {resistor: 2 kohm}, R2: {resistor: 2 kohm}}
wirings:
  original: {wires: [[A, M1.+], [M1.-, B], [B, R1.1], [R1.2, C]]}
  other: {wires: [[A, M1.+], [M1.-, B], [A, R2.1], [R2.2, B], [B, R1.1], [R1.2, C]]}
"""
    spec = read_text(text)
    for wiring, times in (("original", 20.0), ("other", 10.0)):
        plan = plan_of(spec, spec.wirings[wiring])
        probe: Probe = plan.probe(plan.job.touch({}, ("A", "B")))
        assert dict(probe.overloads) == {"M1": pytest.approx(times, rel=1e-3)}
        assert plan.probe(plan.job.touch({}, ("B", "C"))).overloads == ()


def test_an_ac_meter_gives_no_ohms_but_its_overload() -> None:
    """Alone between two places it takes all of the test's milliampere, whatever its ohms are."""
    text = b"""
rewire: 1
title: t
points: {A: {}, B: {}, C: {}}
parts: {M1: {meter: 50 uA, resistance: 2 kohm, ac: yes}, R1: {resistor: 2 kohm}}
wirings:
  original: {wires: [[A, M1.+], [M1.-, B], [B, R1.1], [R1.2, C]]}
"""
    spec = read_text(text)
    plan = plan_of(spec, spec.wirings["original"])
    probe: Probe = plan.probe(plan.job.touch({}, ("A", "B")))
    assert (probe.expect, probe.ohms) == ("ohms", None)
    assert dict(probe.overloads) == {"M1": pytest.approx(20.0, rel=1e-3)}
    (said,) = rectified(spec.parts_of(plan.wiring).values())
    assert said.startswith("M1 is made for AC")


def test_diodes_by_polarity() -> None:
    """Through a diode alone: open one way, conducting with plus at its anode; beside a short of
    one ohm it does not matter, beside ten kilohm it does."""
    text = b"""
rewire: 1
title: t
points: {A: {}, B: {}, C: {}, D: {}, E: {}}
parts:
  D1: {diode: silicon, between: [A, B]}
  D2: {diode: silicon, between: [C, B]}
  D3: {diode: silicon, between: [D, E]}
  R3: {resistor: 1 ohm, between: [D, E]}
  R4: {resistor: 10 kohm, between: [D, C]}
  D4: {diode: germanium, between: [C, D]}
wirings: {original: {}, other: {}}
"""
    plan = plan_of(read_text(text), read_text(text).wirings["other"])

    def way(one: str, other: str) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
        probe = plan.probe(plan.job.touch({}, (one, other)))
        return probe.expect, probe.diodes, probe.plus

    assert way("A", "B") == ("open", ("D1",), ("A",))
    assert way("B", "A") == ("open", ("D1",), ("A",))
    assert way("A", "C") == ("open", (), ())
    assert way("D", "B") == ("open", ("D2",), ("D",))
    assert way("D", "E") == ("ohms", (), ())
    assert way("C", "D") == ("ohms", ("D4",), ("C",))
