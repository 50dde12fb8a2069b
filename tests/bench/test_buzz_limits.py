"""What is too much to be buzzed is refused by number; lugs with nothing on them do not count."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from rewire.bench.ohmmeter import Assembly, Bank, Edit
from rewire.bench.short_list import Plan, plan_of
from rewire.circuit.states import LimitReached
from rewire.reading.read import read_text


def plan(parts: dict[str, Any], wires: list[list[str]], positions: list[str]) -> Plan:
    points = {end: {} for wire in wires for end in wire if "." not in end}
    wiring = {"parts": parts, "wires": wires}
    spec = read_text(
        json.dumps({
            "rewire": 1, "title": "limits", "controls": {"K": positions}, "points": points,
            "wirings": {"original": wiring, "other": wiring},
        }).encode()
    )  # fmt: skip
    return plan_of(spec, spec.wirings["other"], seconds=0.0)


def wafer(poles: int, throws: int) -> Plan:
    """A switch of which one contact is wired."""
    switch = {"switch": f"{poles}P{throws}T", "control": "K"}
    wires = [["S1.A", "P"], ["S1.A2", "Q"]]
    return plan({"S1": switch}, wires, [f"T{n + 1}" for n in range(throws)])


def gang(switches: int) -> Plan:
    """Switches of two throws on one control, a point on each common and each first throw."""
    parts = {f"S{n}": {"switch": "SPDT", "control": "K"} for n in range(switches)}
    wires = [[f"S{n}.{lug}", f"P{n}{lug}"] for n in range(switches) for lug in ("A", "A1")]
    return plan(parts, wires, ["UP", "DOWN"])


def test_a_large_wafer_with_two_wires_is_buzzed_without_its_empty_lugs() -> None:
    """Worked out by hand: P to Q closes at T2 alone, and no two empty lugs are worth a touch."""
    found = wafer(12, 12)
    wired = {"S1.A", "S1.A2", "P", "Q"}
    pairs = {probe.between for probe in [*found.everything(), *found.table]}
    assert pairs
    assert all(wired & set(pair) for pair in pairs)
    closed = {
        probe.state["K"]: probe.expect
        for probe in found.everything()
        if set(probe.between) == {"P", "Q"}
    }
    assert closed == {f"T{n}": "closed" if n == 2 else "open" for n in range(1, 13)}
    left_out = [n for n, mistake in enumerate(found.mistakes) if mistake.kind == "left out"]
    assert len(left_out) == 2
    assert found.shown.seen[left_out].all()


@pytest.mark.parametrize(
    ("make", "size", "numbers"),
    [
        (wafer, (60, 60), ["60 states", "878,280 readings", "200,000"]),
        (gang, (100,), ["119,800 pairs", "239,600 readings", "200,000"]),
        (gang, (80,), ["153,280 readings", "19,572 single mistakes", "3,000,000,000"]),
    ],
)
def test_what_is_too_much_is_refused_by_number(
    make: Any, size: tuple[int, ...], numbers: list[str]
) -> None:
    """Pairs by hand: 4 wired places and 3,658 empty lugs; 500 places; 400 places, two states."""
    with pytest.raises(LimitReached) as refused:
        make(*size)
    assert all(number in str(refused.value) for number in numbers), str(refused.value)


def test_many_kinds_of_mistakes_on_many_parts_are_refused_before_they_are_solved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    solved: list[int] = []
    make = Bank.__init__

    def counted(bank: Bank, network: Assembly, edits: list[Edit], *others: Any) -> None:
        solved.append(len(edits))
        make(bank, network, edits, *others)

    monkeypatch.setattr(Bank, "__init__", counted)
    parts: dict[str, Any] = {f"R{n}": {"resistor": f"{n + 1} ohm"} for n in range(90)}
    parts["S1"] = {"switch": "SPDT", "control": "K"}
    wires = [[f"R{n}.2", f"R{n + 1}.1"] for n in range(89)]
    wires += [["R0.1", "S1.A"], ["R89.2", "S1.A1"]]
    with pytest.raises(LimitReached, match=r"resistances to be held, more than 200,000,000"):
        plan(parts, wires, ["UP", "DOWN"])
    assert len([count for count in solved if count > 200]) == 1  # for their kinds alone


def test_a_mistake_is_shown_where_any_reading_of_it_is_another() -> None:
    """Nothing here has ohms: a reading is open or closed, whoever reads it."""
    found = gang(3)
    network, states = found.job.network, found.job.states
    touches = found.shown.touches
    each = Bank(network, [Edit(), *(m.edit for m in found.mistakes)], states).read(touches)
    differing = (np.isinf(each) != np.isinf(each[:, :1])).any(axis=0)[1:]
    assert differing.tolist() == found.shown.seen.tolist()
