"""One mistake in a random rig: the repair that is told undoes it, as the reference sees it."""

from __future__ import annotations

import copy
import random
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from rewire.bench.mends import Mend, mends_all, mends_of
from rewire.compare import compare_wiring
from rewire.reading import read_text
from rewire.records.spec import Wiring
from rewire.records.switches import Switch
from tests.reading.builders import read
from tests.reference.circuit import lugs_of
from tests.reference.mutate import (
    Draft,
    another_wire,
    change_timing,
    drop_wire,
    insert_part,
    link_points,
    move_end,
    replace_whole,
    swap_ends,
)
from tests.reference.oracle import facts
from tests.reference.strategies import random_spec

Spec = dict[str, Any]


def pairs_of(wiring: Spec) -> list[list[str]]:
    """All that is soldered, two places at a time."""
    wires = [
        [w["from"], w["to"]] if isinstance(w, dict) else w[:2] for w in wiring.get("wires", [])
    ]
    nets = wiring.get("nets", [])
    members = nets.values() if isinstance(nets, dict) else nets
    return wires + [list(pair) for net in members for pair in pairwise(net)]


def forgotten_role(rng: random.Random, draft: Draft) -> None:
    """A part under a new name that does not say what it replaces."""
    replace_whole(rng, draft)
    for part in draft.parts.values():
        part.pop("replaces", None)


def two_wires(rng: random.Random, draft: Draft) -> None:
    """The ends of two wires exchanged."""
    if len(draft.wires) > 1:
        one, other = rng.sample(range(len(draft.wires)), 2)
        (a, b), (c, d) = draft.wires[one], draft.wires[other]
        if len({a, b, c, d}) == 4:
            draft.wires[one], draft.wires[other] = [a, d], [c, b]


def from_the_other_end(rng: random.Random, draft: Draft) -> None:
    """A switch whose throws are wired in the reverse order."""
    plain = [n for n in draft.of_kind("switch") if draft.parts[n]["switch"] != "table"]
    plain = [n for n in plain if "lugs" not in draft.parts[n] and "positions" not in draft.parts[n]]
    if not plain:
        return
    name = rng.choice(plain)
    lugs = lugs_of(draft.parts[name])
    throws = sorted({lug[-1] for lug in lugs if lug[-1].isdigit()})
    turned = dict(zip(throws, reversed(throws), strict=True))
    draft.rename({
        f"{name}.{lug}": f"{name}.{lug[:-1]}{turned[lug[-1]]}" for lug in lugs if lug[-1].isdigit()
    })  # fmt: skip


MISTAKES: tuple[Callable[[random.Random, Draft], None], ...] = (
    drop_wire, drop_wire, move_end, move_end, another_wire, swap_ends, two_wires, change_timing,
    insert_part, link_points, forgotten_role, from_the_other_end,
)  # fmt: skip


def rig(seed: int) -> tuple[Spec, str]:
    """A random original, a copy of it with one mistake, and what that is."""
    rng = random.Random(seed)
    drawn: Spec = random_spec(rng, size=seed % 3)
    original = drawn["wirings"]["original"]
    draft = Draft(drawn, copy.deepcopy(original["parts"]), pairs_of(original), original["parts"])
    mistake = rng.choice(MISTAKES)
    mistake(rng, draft)
    drawn["wirings"] = {
        "original": original,
        "substitute": {"parts": draft.parts, "wires": draft.wires},
    }
    drawn.pop("rules", None)
    return drawn, mistake.__name__


def written(wiring: Wiring, drawn: Spec) -> Spec:
    """A mended wiring as text again, for the reference."""
    parts = copy.deepcopy(drawn["wirings"]["substitute"]["parts"])
    for name, part in wiring.parts.items():
        if isinstance(part, Switch):
            parts[name]["timing"] = {s.lugs[0]: s.timing for s in part.sections}
            if len(part.sections) == 0:
                parts[name].pop("timing")
        if part.between is not None:
            parts[name]["between"] = list(part.between)
        if part.replaces:
            parts[name]["replaces"] = dict(part.replaces)
    changes = [
        {change.kind: list(change.anchors)}
        if not change.parts
        else {change.kind: list(change.parts), "between": list(change.anchors)}
        for change in wiring.changes
    ]
    wires = [list(wire.ends) for wire in wiring.wires]
    nets = [list(net.members) for net in wiring.nets]
    told: Spec = {"parts": parts, "wires": wires, "nets": nets, "changes": changes}
    return {key: value for key, value in told.items() if value}


def left_wrong(drawn: Spec, wiring: Wiring) -> dict[str, Any]:
    """What the reference still finds wrong in a mended wiring."""
    wirings = {**drawn["wirings"], "substitute": written(wiring, drawn)}
    found = facts({**drawn, "wirings": wirings})
    return {key: what for key, what in found.items() if what and key != "added"}


def test_the_repair_of_one_mistake_undoes_it() -> None:
    """In 95 of 100 there is one, and the reference finds nothing wrong after any that is told."""
    tried: Counter[str] = Counter()
    mended: Counter[str] = Counter()
    for seed in range(120):
        drawn, mistake = rig(seed)
        spec = read(drawn)
        result = compare_wiring(spec, spec.wirings["substitute"])
        if result.verdict != "broken":
            continue
        tried[mistake] += 1
        mends = mends_of(spec, spec.wirings["substitute"], result)
        made = [mend for mend in mends if mend.kind != "declared"]
        if made and mends_all(result, made):
            mended[mistake] += 1
            assert left_wrong(drawn, made[-1].wiring) == {}, (seed, mistake, made[-1].text)
        for mend in mends[len(made) :]:
            assert made
            assert compare_wiring(spec, mend.wiring).verdict == "changed"
    assert len(tried) >= 9
    assert mended.total() >= 0.95 * tried.total() > 50, (tried, mended)


RIGHT = [
    ["M1.+", "S1.A"], ["S1.A1", "BATTERY"], ["S1.A2", "SHUNT"], ["M1.-", "MINUS"],
    ["RELAY", "S1.B"], ["S1.B1", "S1.B2"], ["S1.B2", "MINUS"],
]  # fmt: skip


def charger(wires: list[list[str]], **more: Any) -> tuple[Mend, ...]:
    """What mends a wiring of a small set: two poles, a meter, a relay's return."""
    points = {"MINUS": {"chassis": "yes"}, "BATTERY": {}, "SHUNT": {}, "RELAY": {}}
    parts = {
        "S1": {"switch": "DPDT", "control": "USE", "timing": "non-shorting"},
        "M1": {"meter": "1 mA", "resistance": "75 ohm"},
    }
    planned_parts = {name: part for name, part in {**parts, **more}.items() if part}
    spec = read({
        "rewire": "1", "title": "charger", "controls": {"USE": ["VOLTS", "AMPS"]},
        "points": points,
        "wirings": {
            "original": {"parts": parts, "wires": RIGHT},
            "planned": {"parts": planned_parts, "wires": wires},
        },
    })  # fmt: skip
    planned = spec.wirings["planned"]
    return mends_of(spec, planned, compare_wiring(spec, planned))


@pytest.mark.parametrize(
    ("wires", "told"),
    [
        ([wire for wire in RIGHT if wire != ["S1.B1", "S1.B2"]], ["a jumper S1.B1 to S1.B2"]),
        ([*RIGHT, ["S1.A2", "MINUS"]], ["take out wire W7 (S1.A2 to MINUS)"]),
        (
            [["M1.+", "MINUS"], *RIGHT[1:3], ["M1.-", "S1.A"], *RIGHT[4:]],
            ["exchange what is on M1.+ and M1.-"],
        ),
        (
            [RIGHT[0], ["S1.A2", "BATTERY"], ["S1.A1", "SHUNT"], *RIGHT[3:]],
            ["wire S1 in the reverse order of its throws"],
        ),
        (RIGHT, []),
    ],
)
def test_what_to_do_is_said_in_words(wires: list[list[str]], told: list[str]) -> None:
    """By hand: the usual slips, each with the work that puts it right."""
    assert [mend.text for mend in charger(wires)] == told


def test_a_fuse_that_is_meant_is_declared_after_what_takes_it_away() -> None:
    """A fuse in the meter's lead: nobody shorts it out; by hand."""
    wires = [["M1.+", "F1.1"], ["F1.2", "S1.A"], *RIGHT[1:]]
    moved, declared = charger(wires, F1={"fuse": "100 mA"})
    assert (moved.kind, declared.kind) == ("moved", "declared")
    assert not any(set(wire.ends) == {"F1.1", "F1.2"} for wire in moved.wiring.wires)
    on_fuse = [at for wire in moved.wiring.wires for at in wire.ends if at.startswith("F1.")]
    assert len(set(on_fuse)) == 1
    assert declared.text.startswith("changes: [{insert: F1, between: [")
    assert declared.findings == moved.findings


def test_two_parts_in_series_are_not_shorted_out_either() -> None:
    """A multiplier of two resistors and a fuse: no jumper from one end to the other; by hand."""
    parts = {"F1": {"fuse": "100 mA"}, "R1": {"resistor": "1 kohm"}}
    wires = [["M1.+", "F1.1"], ["F1.2", "R1.2"], ["R1.1", "S1.A"], *RIGHT[1:]]
    assert [mend.kind for mend in charger(wires, **parts)] == ["moved", "declared"]


def test_each_fault_has_the_change_that_mends_it() -> None:
    """A meter without a role and a jumper forgotten: the role brings no jumper back; by hand."""
    new = {"M2": {"meter": "1 mA", "resistance": "75 ohm"}}
    wires = [[end.replace("M1", "M2") for end in wire] for wire in RIGHT]
    wires.remove(["S1.B1", "S1.B2"])
    first, second = charger(wires, M1=None, **new)
    assert {first.text, second.text} == {"write 'replaces: M1' with M2", "a jumper S1.B1 to S1.B2"}
    assert not set(first.findings) & set(second.findings)


def test_what_else_to_do_is_said_with_the_declaration() -> None:
    """A fuse, and a short: declared, the fuse leaves the short; by hand."""
    wires = [["M1.+", "F1.1"], ["F1.2", "S1.A"], *RIGHT[1:], ["S1.A2", "MINUS"]]
    *_, declared = charger(wires, F1={"fuse": "100 mA"})
    assert declared.kind == "declared"
    assert declared.text.endswith("; then take out wire W8 (S1.A2 to MINUS)")


def test_what_cannot_be_mended_does_not_hide_what_can() -> None:
    """The relay's jumper forgotten and the meter not there at all: the jumper is told; by hand."""
    wires = [*RIGHT[1:3], *RIGHT[4:5], ["S1.B1", "MINUS"]]
    assert [mend.text for mend in charger(wires, M1=None)] == ["a jumper S1.B1 to S1.B2"]


R32, R35 = "rating: 0.5 W, replaces: R32}", "rating: 0.5 W, replaces: R35}"
NEW_METER = "        replaces: M1\n"
TURNED = (
    ("{from: RV41.wiper, to: M2.+, colour: RD", "{from: RV41.wiper, to: M2.-, colour: RD"),
    ("{from: S4.B, to: M2.-,", "{from: S4.B, to: M2.+,"),
)
TO_TAP = "      - {from: S4.A3, to: SCREEN_TAP, colour: YE, length: 80 mm, insulation: 600 V}\n"


@pytest.mark.parametrize(("spec", "slips", "told"), [
    # Six leads soldered wrong, or two words exchanged: the words.
    ("valve-amplifier", [(R32, "R_"), (R35, R32), ("R_", R35)],
     ["write 'replaces: R32' with R42 and 'replaces: R35' with R45"]),
    ("valve-amplifier", [("bias_board: [BIAS_RETURN, R47.1]", "bias_board: [HT_MINUS, R47.1]")],
     ["solder R47.1 to BIAS_RETURN, not to HT_MINUS"]),
    # 58 V at the most, at BIAS_RETURN.
    ("valve-amplifier", [("      bias_board: [BIAS_RETURN, R47.1]\n", "")],
     ["solder R47.1 to BIAS_RETURN, insulation 300 V or more"]),
    ("linear-amplifier", [("between: [HV_TAP, CHASSIS]", "between: [HV, CHASSIS]")],
     ["solder R61.1 to HV_TAP, not to HV"]),
    ("valve-amplifier", [(NEW_METER, ""), *TURNED],
     ["write 'replaces: M1' with M2", "exchange what is on M2.+ and M2.-"]),
    # Not past the pot, and for the 540 V to which the tap can rise.
    ("valve-amplifier", [(TO_TAP, "")], ["a wire SCREEN_TAP to S4.A3, insulation 600 V or more"]),
])  # fmt: skip
def test_a_slip_in_a_shipped_plan_is_undone_where_it_was_made(
    spec: str, slips: list[tuple[str, str]], told: list[str]
) -> None:
    text = (Path("specs") / f"{spec}.yaml").read_text("utf-8")
    for old, new in slips:
        assert text.count(old) == 1
        text = text.replace(old, new)
    made = read_text(text.encode())
    plan = made.wirings["substitute"]
    assert [mend.text for mend in mends_of(made, plan, compare_wiring(made, plan))] == told
