"""Unknown switches and meters, against switches drawn at random and published figures."""

from __future__ import annotations

import itertools
import json
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sympy

from rewire.bench.identify import identify
from rewire.bench.movement import (
    Impossible,
    Measured,
    by_shunt,
    by_two_series,
    by_volts,
    estimate,
    least_series,
    shunted_ohms,
)
from rewire.reading.buzzout import read_buzzout_text
from rewire.reading.read import read_text
from rewire.records.switches import Switch
from tests.reference.circuit import control_positions, lugs_of, switch_pieces
from tests.reference.generate import random_controls, random_switch

EXAMPLES = json.loads(
    (Path(__file__).parents[1] / "published" / "worked-examples.json").read_text(encoding="utf-8")
)


def closed_at(part: dict[str, Any], positions: list[str], at: str) -> list[list[str]]:
    return [
        list(g) for _, groups in switch_pieces(part, positions) for g in groups[at] if len(g) > 1
    ]


def read_back(block: str, name: str, lugs: list[str]) -> Switch:
    """The switch of a pasted block, in the smallest spec that holds it."""
    joined = f"wirings: {{original: {{wires: [[{name}.{lugs[0]}, P]]}}, other: {{wires: []}}}}\n"
    text = f"rewire: 1\ntitle: t\npoints: {{P: {{}}}}\n{block}{joined}"
    part = read_text(text.encode()).parts[name]
    assert isinstance(part, Switch)
    return part


def groups_of(switch: Switch, position: int) -> set[frozenset[str]]:
    return {frozenset(group) for section in switch.sections for group in section.groups[position]}


@pytest.mark.parametrize("seed", range(100))
def test_the_block_is_the_switch_that_was_buzzed(seed: int) -> None:
    """Buzz a random switch out, pair by pair, and read the block back: the same is closed."""
    rng = random.Random(seed)
    spec = {"controls": random_controls(rng, 1), "points": {"CH": {}}}
    control = sorted(spec["controls"])[0]
    part = random_switch(rng, spec, control)
    positions, lugs = control_positions(spec, control), lugs_of(part)
    detents = {at: closed_at(part, positions, at) for at in positions}
    pairs = {at: [list(p) for g in gs for p in itertools.pairwise(g)] for at, gs in detents.items()}
    told = {"rewire_switch": "1", "lugs": lugs, "detents": pairs}
    found = identify(read_buzzout_text(json.dumps(told).encode()), "S9", "TURN")
    used = [lug for section in found.sections for lug in section.lugs] or lugs
    again = read_back(found.block, "S9", used)
    for number, at in enumerate(positions):
        assert groups_of(again, number) == {frozenset(g) for g in detents[at]}, found.block
    assert not found.clashes
    assert set(found.idle) == {lug for lug in lugs if not any(lug in g for gs in detents.values()
                                                              for g in gs)}  # fmt: skip


@pytest.mark.parametrize("form", ["SPST", "SPDT", "DPDT", "3P4T", "2P6T", "DP3T", "4P2T"])
def test_plain_forms_are_named(form: str) -> None:
    rng = random.Random(form)
    throws = {"SPST": 1, "SPDT": 2, "DPDT": 2, "3P4T": 4, "2P6T": 6, "DP3T": 3, "4P2T": 2}[form]
    poles = {"SPST": 1, "SPDT": 1, "DPDT": 2, "3P4T": 3, "2P6T": 2, "DP3T": 2, "4P2T": 4}[form]
    names = [str(n) for n in range(poles * (throws + 1))]
    rng.shuffle(names)
    arms = [names[n * (throws + 1) : (n + 1) * (throws + 1)] for n in range(poles)]
    detents = {f"D{t}": [[arm[0], arm[t]] for arm in arms] for t in range(1, throws + 1)}
    if throws == 1:
        detents["off"] = []
    told = {"rewire_switch": "1", "lugs": names, "detents": detents}
    found = identify(read_buzzout_text(json.dumps(told).encode()))
    assert found.form == {"4P2T": "4PDT", "2P6T": "DP6T"}.get(form, form)
    if throws > 1:
        assert {pole.common for pole in found.poles} == {arm[0] for arm in arms}
    assert all(pole.either_way == (throws == 1) for pole in found.poles)


@pytest.mark.parametrize(
    ("between", "timing"),
    [([[["A", "1", "2"]]], "shorting"), ([[]], "non-shorting"), ([[["A", "1"]]], "mixed")],
)
def test_timing_from_what_is_closed_between_detents(between: Any, timing: str) -> None:
    """Shorting contacts touch the next throw before they leave the last, non-shorting ones leave
    it first: MIL-DTL-18396E, 3.2.5 and 3.2.6 (as the worked examples give it)."""
    told = {
        "rewire_switch": "1", "lugs": ["A", "1", "2"],
        "detents": {"x": [["A", "1"]], "y": [["A", "2"]]}, "between": between,
    }  # fmt: skip
    found = identify(read_buzzout_text(json.dumps(told).encode()))
    assert found.timings == (timing,)
    assert f"timing: {'unknown' if timing == 'mixed' else timing}" in found.block


@pytest.mark.parametrize(
    ("between", "pairs"),
    [
        ([["C", "C1", "C2"]], []),
        ([["A", "C"]], [("A", "C")]),
        ([["C", "C1", "C2"], ["A2", "C2"]], [("A2", "C")]),
        ([["A", "C", "X"]], [("A", "C"), ("A", "X")]),
    ],
)
def test_lugs_that_short_only_while_the_knob_turns_are_told(
    between: list[list[str]], pairs: list[tuple[str, str]]
) -> None:
    """Two nets of both detents are connected in neither: what connects them is half way alone."""
    told = {
        "rewire_switch": "1", "lugs": ["A", "A1", "A2", "C", "C1", "C2", "X"],
        "detents": {"x": [["A", "A1"], ["C", "C1"]], "y": [["A", "A2"], ["C", "C2"]]},
        "between": [between],
    }  # fmt: skip
    found = identify(read_buzzout_text(json.dumps(told).encode()))
    assert [one.pair for one in found.half_way] == pairs
    assert found.block.count("half way from x to y") == len(pairs)


def test_a_contact_that_opens_between_two_detents_that_close_it_has_no_known_timing() -> None:
    told = {
        "rewire_switch": "1", "lugs": ["A", "1"], "between": [[], []],
        "detents": {"x": [["A", "1"]], "y": [["A", "1"]], "off": []},
    }  # fmt: skip
    assert identify(read_buzzout_text(json.dumps(told).encode())).timings == ("mixed",)


@pytest.mark.parametrize("seed", range(40))
def test_contradictions_and_untested_pairs(seed: int) -> None:
    """Of all pairs some are touched; what is neither told nor follows is named, and no more."""
    rng = random.Random(seed)
    lugs = ["A", "B", "C", "D", "E"]
    place = {lug: rng.randrange(3) for lug in lugs}
    every = list(itertools.combinations(lugs, 2))
    made = [pair for pair in every if rng.random() < 0.6]
    closed = [list(p) for p in made if place[p[0]] == place[p[1]]]
    opened = [list(p) for p in made if place[p[0]] != place[p[1]]]
    told = {
        "rewire_switch": "1", "lugs": lugs,
        "detents": {"x": closed, "y": []}, "open": {"x": opened, "y": [lugs]},
    }  # fmt: skip
    found = identify(read_buzzout_text(json.dumps(told).encode()))
    assert not found.clashes
    graph = {lug: {lug} for lug in lugs}
    for _ in lugs:
        for a, b in closed:
            graph[a] = graph[b] = graph[a] | graph[b]
            for lug in graph[a]:
                graph[lug] = graph[a]
    apart = {frozenset((min(graph[a]), min(graph[b]))) for a, b in opened}
    left = {frozenset((min(graph[a]), min(graph[b]))) for a, b in every} - apart
    left = {both for both in left if len(both) == 2}
    named = {
        frozenset((min(graph[a]), min(graph[b]))) for at, (a, b) in found.untested if at == "x"
    }
    assert named == left
    assert len(found.untested) == len(left)


def test_an_open_pair_beside_closed_ones_is_a_contradiction() -> None:
    told = {
        "rewire_switch": "1", "lugs": ["A", "B", "C"],
        "detents": {"x": [["A", "B"], ["B", "C"]], "y": []}, "open": {"x": [["A", "C"]]},
    }  # fmt: skip
    clash = identify(read_buzzout_text(json.dumps(told).encode())).clashes
    assert [(c.detent, c.pair, c.way) for c in clash] == [("x", ("A", "C"), ("A", "B", "C"))]


def shunts() -> list[Any]:
    """Published shunts: meter of known ohms, range, and the shunt that exact arithmetic gives."""
    return [e for e in EXAMPLES if e["topic"] == "shunt" and {"meter_fs_A", "range_A", "meter_ohms"}
            <= set(e["given"])]  # fmt: skip


@pytest.mark.parametrize("example", shunts(), ids=lambda e: e["id"])
def test_meter_ohms_back_from_published_shunts(example: dict[str, Any]) -> None:
    """A shunt that makes a meter of fs read range takes the pointer from full scale to fs/range.

    The books give meter, range and shunt; from a source of very high resistance the readings
    with and without that shunt give the meter's ohms back. Sources: worked-examples.json.
    """
    given = example["given"]
    ratio = given["range_A"] / given["meter_fs_A"]
    shunt = given["meter_ohms"] / (ratio - 1.0)
    printed = [v for k, v in example["recomputed"].items() if "shunt" in k and "ohm" in k.lower()]
    assert printed, example["recomputed"]
    assert any(shunt == pytest.approx(value, rel=1e-6) for value in printed)
    for value in printed[:1]:
        figures = {
            "series": Measured(1e12), "shunt": Measured(value),
            "before": Measured(1.0), "after": Measured(1.0 / ratio),
        }  # fmt: skip
        assert by_shunt(figures).ohms.value == pytest.approx(given["meter_ohms"], rel=1e-6)


def test_half_deflection_formula() -> None:
    """G = R S / (R - S) for half deflection: the school experiment 'resistance of a galvanometer
    by half deflection', NCERT Physics laboratory manual, class XII; from memory."""
    r, s = sympy.symbols("R S", positive=True)
    formula = sympy.lambdify((r, s), r * s / (r - s))
    rng = random.Random(1)
    for _ in range(200):
        series = 10 ** rng.uniform(2, 6)
        shunt = series * rng.uniform(0.001, 0.9)
        assert shunted_ohms(series, shunt, 1.0, 0.5) == pytest.approx(formula(series, shunt))


@pytest.mark.parametrize("seed", range(60))
def test_any_movement_is_found_back(seed: int) -> None:
    """A movement in a circuit solved node by node, by every way of measuring it."""
    rng = random.Random(seed)
    ohms, amps = 10 ** rng.uniform(0, 4), 10 ** rng.uniform(-5, -2)
    volts = rng.choice([1.5, 3.0, 9.0]) + amps * ohms
    before, series = rng.uniform(0.6, 1.0), 0.0
    series = volts / (amps * before) - ohms
    shunt = ohms * 10 ** rng.uniform(-0.7, 0.7)

    def through(behind: float, across: float | None) -> float:
        siemens = np.array([[1 / behind + 1 / ohms + (1 / across if across else 0.0)]])
        return float(np.linalg.solve(siemens, np.array([volts / behind]))[0] / ohms / amps)

    assert through(series, None) == pytest.approx(before)
    base = {"series": Measured(series), "before": Measured(before), "source": Measured(volts)}
    after = through(series, shunt)
    found = by_shunt({**base, "shunt": Measured(shunt), "after": Measured(after)})
    assert found.ohms.value == pytest.approx(ohms, rel=1e-6)
    assert found.amps is not None
    assert found.amps.value == pytest.approx(amps, rel=1e-6)
    then = series + 10 ** rng.uniform(0, 1) * (series + ohms)
    found = by_two_series({**base, "then": Measured(then), "after": Measured(through(then, None))})
    assert found.ohms.value == pytest.approx(ohms, rel=1e-5)
    across = {"volts": Measured(before * amps * ohms), "before": Measured(before)}
    found = by_volts({**across, "amps": Measured(before * amps)})
    assert found.ohms.value == pytest.approx(ohms)
    found = by_volts({**across, "source": Measured(volts), "series": Measured(series)})
    assert (found.ohms.value, found.amps and found.amps.value) == (
        pytest.approx(ohms), pytest.approx(amps),
    )  # fmt: skip
    assert least_series(volts, found) == pytest.approx(volts / amps - ohms)


@pytest.mark.parametrize("seed", range(20))
def test_uncertainty_against_sampling(seed: int) -> None:
    """First-order propagation against 200 000 draws inside the limits, as JCGM 101:2008 has it."""
    rng = random.Random(seed)
    figures = {
        "series": Measured(10_000.0, 10_000.0 * rng.uniform(0.001, 0.01)),
        "shunt": Measured(rng.uniform(50, 3000), rng.uniform(0.1, 1.0)),
        "before": Measured(1.0, rng.uniform(0.002, 0.01)),
        "after": Measured(0.5, rng.uniform(0.002, 0.01)),
    }  # fmt: skip
    draws = np.random.default_rng(seed)
    drawn = {
        key: draws.uniform(one.value - one.off, one.value + one.off, 200_000)
        for key, one in figures.items()
    }
    ratio = drawn["before"] / drawn["after"] - 1.0
    ohms = drawn["series"] * drawn["shunt"] * ratio / (drawn["series"] - ratio * drawn["shunt"])
    found = by_shunt(figures).ohms
    assert found.uncertainty == pytest.approx(2.0 * float(ohms.std()), rel=0.05)
    assert float(np.abs(ohms - found.value).max()) <= 1.15 * found.worst
    assert sum(found.shares.values()) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "figures",
    [
        {"series": 10.0, "shunt": 100.0, "before": 1.0, "after": 0.5},
        {"series": 1e4, "shunt": 100.0, "before": 0.5, "after": 0.5},
        {"series": 1e4, "shunt": 100.0, "before": 0.4, "after": 0.5},
    ],
)
def test_figures_that_no_movement_gives(figures: dict[str, float]) -> None:
    with pytest.raises(Impossible):
        by_shunt({key: Measured(value) for key, value in figures.items()})


def test_figures_no_movement_can_give_are_reported_too() -> None:
    with pytest.raises(Impossible):
        estimate(lambda f: 1.0 / f["x"] if f["x"] > 0.0 else float("inf"),
                 {"x": Measured(0.1, 0.2)})  # fmt: skip


Reading = frozenset[str]
Buzzed = list[set[Reading]]


def is_plain(detents: Buzzed) -> bool:
    """Arms of which each closes on one throw, or on none, all at the same throws together."""
    if any(len(set().union(*pairs)) != 2 * len(pairs) for pairs in detents):
        return False
    lugs = set().union(*itertools.chain.from_iterable(detents))
    piece = {lug: {lug} for lug in lugs}
    for one, other in map(tuple, itertools.chain.from_iterable(detents)):
        both = piece[one] | piece[other]
        piece.update(dict.fromkeys(both, both))
    patterns = set()
    for own in {frozenset(lugs) for lugs in piece.values()}:
        pairs = [next((pair for pair in at if pair <= own), frozenset()) for at in detents]
        closed = [pair for pair in pairs if pair]
        if sum(len([p for p in at if p <= own]) for at in detents) != len(closed):
            return False
        arms = frozenset.intersection(*closed)
        if not arms:
            return False
        seen: dict[Reading, int] = {}
        patterns.add(tuple(seen.setdefault(p, len(seen)) if p else None for p in pairs))
    return len(patterns) == 1


def buzzed_out(lugs: list[str], detents: Buzzed) -> Any:
    listed = {f"D{n}": [sorted(p) for p in sorted(at, key=sorted)] for n, at in enumerate(detents)}
    told = {"rewire_switch": "1", "lugs": lugs, "detents": listed}
    return identify(read_buzzout_text(json.dumps(told).encode()))


def changed(detents: Buzzed, number: int, *pairs: Reading | None) -> Buzzed:
    """The same with each pair closed in that detent if it was open, and open if it was closed."""
    own = {pair for pair in pairs if pair}
    return [at ^ own if n == number else at for n, at in enumerate(detents)]


@pytest.mark.parametrize("seed", range(50))
def test_one_misread_touch_on_a_plain_switch_is_named(seed: int) -> None:
    rng = random.Random(seed)
    poles, throws = rng.randint(2, 4), rng.randint(2, 5)
    lugs = [str(n) for n in range(poles * (throws + 1))]
    rng.shuffle(lugs)
    arms = [lugs[n * (throws + 1) : (n + 1) * (throws + 1)] for n in range(poles)]
    right: Buzzed = [{frozenset((arm[0], arm[t + 1])) for arm in arms} for t in range(throws)]
    form = buzzed_out(lugs, right).form
    assert form != "table"
    at, (one, other) = rng.randrange(throws), rng.sample(lugs, 2)
    pair = rng.choice([frozenset((one, other)), rng.choice(sorted(right[at], key=sorted))])
    found = buzzed_out(lugs, changed(right, at, pair))
    assert found.form == "table"
    named = {
        (m.form, m.detent, frozenset(m.closed or ()), frozenset(m.missing or ()))
        for m in found.misread
    }
    none: Reading = frozenset()
    missed, read = (pair, none) if pair in right[at] else (none, pair)
    assert (form, f"D{at}", read, missed) in named


@pytest.mark.parametrize("seed", range(50))
def test_a_switch_that_one_corrected_reading_cannot_explain_is_left_alone(seed: int) -> None:
    """Every reading of a random table is turned round, and every two in one detent that share a
    lug; what is named is among those that make it plain, and where none does nothing is named."""
    rng = random.Random(seed)
    lugs = ["A", "B", "C", "1", "2"][: rng.randint(4, 5)]
    pairs = [frozenset(pair) for pair in itertools.combinations(lugs, 2)]
    detents: Buzzed = [set(rng.sample(pairs, rng.randint(0, 2))) for _ in range(rng.randint(2, 4))]
    found = buzzed_out(lugs, detents)
    if found.form != "table":
        return
    cures = {
        (n, frozenset(both))
        for n in range(len(detents))
        for both in [*((p,) for p in pairs), *itertools.combinations(pairs, 2)]
        if is_plain(changed(detents, n, *both))
    }
    for one in found.misread:
        both = {frozenset(pair) for pair in (one.closed, one.missing) if pair}
        assert (int(one.detent[1:]), frozenset(both)) in cures
