"""`rewire fit`: how its time grows with poles, throws and the size of the drawer.

Seconds are of the processor, so that whatever else the machine does plays no part.
"""

from __future__ import annotations

import random
import time
from pathlib import Path
from typing import Any

import pytest
import yaml

from rewire.fit.answer import fit_all, fit_one
from rewire.fit.offers import offer_of_form, offers_of_drawer
from rewire.fit.task import task_of
from rewire.reading import read_spec, read_text
from rewire.reading.drawer import read_drawer_text
from rewire.records.spec import Spec
from rewire.records.switches import Switch

FLAGSHIP = Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml"
LETTERS = "ABCDEFGHJK"


def function(poles: int, throws: int, seed: int) -> Spec:
    """So many poles: some throws on chassis, some on the pole beside, some on nothing."""
    rng = random.Random(seed)
    points: dict[str, Any] = {"CHASSIS": {"chassis": "yes"}}
    wires = []
    for pole, letter in enumerate(LETTERS[:poles]):
        points[f"C{pole}"] = {}
        wires.append([f"S.{letter}", f"C{pole}"])
        for throw in range(1, throws + 1):
            kind = rng.random()
            end = f"N{pole}_{throw}"
            if kind < 0.3:
                end = "CHASSIS"
            elif kind < 0.45 and pole:
                end = f"S.{LETTERS[pole - 1]}{throw}"
            elif kind > 0.9:
                continue
            else:
                points[end] = {}
            wires.append([f"S.{letter}{throw}", end])
    switch = {"switch": f"{poles}P{throws}T", "control": "K", "timing": "non-shorting"}
    wiring = {"parts": {"S": switch}, "wires": wires}
    spec = {
        "rewire": "1",
        "title": "function",
        "controls": {"K": [f"P{throw}" for throw in range(throws)]},
        "points": points,
        "wirings": {"original": wiring, "copy": wiring},
    }
    return read_text(yaml.safe_dump(spec).encode())


def seconds(spec: Spec, old: str, form: str) -> tuple[float, bool]:
    """Processor seconds to land a switch on a form, and whether it fits."""
    switch = spec.original.parts[old]
    assert isinstance(switch, Switch)
    start = time.process_time()
    answer = fit_one(task_of(spec, switch), offer_of_form(form, "non-shorting"))
    assert answer.proven
    return time.process_time() - start, answer.feasible


@pytest.mark.parametrize("seed", range(5))
def test_three_poles_on_a_4p3t_take_less_than_half_a_second(seed: int) -> None:
    taken, fits = seconds(function(3, 3, seed), "S", "4P3T")
    assert fits
    assert taken < 0.5


def test_the_flagship_on_a_4p3t_takes_less_than_half_a_second() -> None:
    spec = read_spec(FLAGSHIP)
    switch = spec.original.parts["S3"]
    assert isinstance(switch, Switch)
    start = time.process_time()
    answer = fit_one(task_of(spec, switch), offer_of_form("4P3T"))
    assert answer.feasible
    assert time.process_time() - start < 0.5


@pytest.mark.parametrize("seed", range(1, 5))
def test_six_poles_and_twelve_ways_take_less_than_ten_seconds(seed: int) -> None:
    taken, fits = seconds(function(6, 12, seed), "S", "6P12T")
    assert fits
    assert taken < 10


def test_five_poles_are_refused_a_function_of_six_within_a_second() -> None:
    taken, fits = seconds(function(6, 12, 1), "S", "5P12T")
    assert not fits
    assert taken < 1


def test_spare_poles_cost_next_to_nothing() -> None:
    spec = function(3, 12, 1)
    just, many = (seconds(spec, "S", form)[0] for form in ("3P12T", "9P12T"))
    assert many < 3 * just + 0.5, f"{just:.2f} s on three poles, {many:.2f} s on nine"


def test_growth_with_the_throws(capsys: pytest.CaptureFixture[str]) -> None:
    """Shown, and held to: from 3 to 24 throws no faster than with the third power."""
    sizes = (3, 6, 12, 24)
    taken = [max(seconds(function(3, n, 1), "S", f"4P{n}T")[0], 0.02) for n in sizes]
    with capsys.disabled():
        told = ", ".join(f"{n} throws {t:.2f} s" for n, t in zip(sizes, taken, strict=True))
        print(f"\n3 poles on 4: {told}")  # noqa: T201
    assert taken[-1] < taken[0] * (sizes[-1] / sizes[0]) ** 3


def test_a_drawer_of_two_hundred_switches_takes_less_than_ten_seconds() -> None:
    rng = random.Random(5)
    listed = []
    for _ in range(200):
        poles, throws = rng.randint(1, 6), rng.randint(2, 12)
        switch: dict[str, Any] = {"switch": f"{poles}P{throws}T"}
        timing = rng.choice(["shorting", "non-shorting", None])
        listed.append(switch | ({"timing": timing} if timing else {}))
    drawer = read_drawer_text(yaml.safe_dump({"rewire_drawer": "1", "switches": listed}).encode())
    spec = read_spec(FLAGSHIP)
    switch_out = spec.original.parts["S3"]
    assert isinstance(switch_out, Switch)
    start = time.process_time()
    answers = list(fit_all(task_of(spec, switch_out), list(offers_of_drawer(drawer)), 2.0))
    assert time.process_time() - start < 10
    assert any(answer.feasible for answer in answers)
