"""A timing that nobody stated: the answer is FITS IF where it matters, and only there."""

from __future__ import annotations

import itertools
import json
import random
from dataclasses import replace

import pytest

from rewire.compare import compare_wiring
from rewire.fit.answer import fit_one
from rewire.fit.encoding import Landing
from rewire.fit.offers import landing_plan, offer_of_form, wiring_of
from rewire.fit.task import task_of
from rewire.reading import read_spec
from rewire.records.switches import Switch
from tests.fit.rigs import random_spec, read
from tests.fit.test_done_when import FLAGSHIP, run

FORMS = ("SPDT", "DPDT", "3PDT", "2P3T", "3P3T")


def is_right(task, offer, landing: Landing) -> bool:
    plan = landing_plan(task.bare, offer, landing, "new")
    return not task.obstacles(compare_wiring(task.spec, wiring_of(task.bare, plan, "tried")))


def random_answers(seed: int, count: int):
    """Landings on switches of which no timing is stated."""
    rng = random.Random(seed)
    while count:
        model = read(random_spec(rng))
        switch = model.original.parts["S"]
        assert isinstance(switch, Switch)
        answer = fit_one(task_of(model, switch), offer_of_form(rng.choice(FORMS)))
        if answer.landing is not None:
            count -= 1
            yield answer


@pytest.mark.parametrize("seed", range(4))
def test_every_mix_of_timings_that_keeps_what_is_asked_is_right(seed: int) -> None:
    """All mixes are tried; what is asked for holds poles, the others stand either way."""
    conditional = 0
    for answer in random_answers(seed, 25):
        asked, landing = dict(answer.asked), answer.landing
        assert landing is not None
        poles = [section.pole for section in answer.offer.switch.sections]
        for mix in itertools.product(("shorting", "non-shorting"), repeat=len(poles)):
            if all(asked.get(pole, how) == how for pole, how in zip(poles, mix, strict=True)):
                assert is_right(answer.task, answer.offer, replace(landing, timings=mix))
        conditional += not answer.settled
    assert conditional


@pytest.mark.parametrize("seed", range(4))
def test_nothing_is_asked_for_that_does_not_matter(seed: int) -> None:
    """With one pole the other way and the free ones at their worst, the landing is not right."""
    for answer in random_answers(100 + seed, 25):
        landing = answer.landing
        assert landing is not None
        asked = dict(answer.asked)
        for pole in asked:
            turned = tuple(
                "unknown" if section.pole == pole else asked.get(section.pole or "", "unknown")
                for section in answer.offer.switch.sections
            )
            assert not is_right(answer.task, answer.offer, replace(landing, timings=turned))


def test_it_says_if_and_the_status_is_not_settled() -> None:
    result = run(str(FLAGSHIP), "--switch", "4P3T")
    assert result.exit_code == 3
    assert "FITS IF" in result.output
    assert "pole C makes before it breaks" in result.output
    (answer,) = json.loads(run(str(FLAGSHIP), "--switch", "4P3T", "--json").output)["results"]
    assert answer["timing"]["C"] == "shorting"


def test_a_buzz_out_with_readings_between_detents_states_its_timing(tmp_path) -> None:
    """A reads both throws at half way: it makes before it breaks."""
    spec = tmp_path / "lamp.yaml"
    spec.write_text(
        "rewire: 1\ntitle: lamp\ncontrols: {K: [P, Q]}\npoints: {X: {}, Y: {}, Z: {}}\n"
        "wirings:\n  original:\n    parts:\n"
        "      S1: {switch: SPDT, control: K, timing: non-shorting}\n"
        "    wires: [[S1.A, X], [S1.A1, Y], [S1.A2, Z]]\n"
    )
    for between, status in (("[[[a, b, c]]]", 1), ("[[]]", 0)):
        buzzed = tmp_path / "switch.yaml"
        buzzed.write_text(
            "rewire_switch: 1\nlugs: [a, b, c]\ndetents: {1: [[a, b]], 2: [[a, c]]}\n"
            f"between: {between}\n"
        )
        result = run(str(spec), "--switch", str(buzzed))
        assert result.exit_code == status, result.output
    assert run(str(spec), "--switch", str(buzzed), "--write", "new").exit_code == 0
    (switch,) = read_spec(spec).wirings["new"].parts.values()
    assert [(one.timing, one.timing_stated) for one in switch.sections] == [("non-shorting", True)]


def test_a_rule_that_no_waiver_lifts_refuses_at_once(tmp_path) -> None:
    """Four poles that break before they make: the bias return opens, waived or not.

    Each wiring that is right at rest would have to be tried, had the rule nothing to teach: more
    of them than anybody can wait for.
    """
    poles = {lug: [lug + throw for throw in (1, 2, 3)] for lug in (1, 5, 9, 13)}
    detents = {at: [[lug, of[at]] for lug, of in poles.items()] for at in range(3)}
    buzzed = tmp_path / "switch.yaml"
    document = {"rewire_switch": 1, "lugs": [*range(1, 17)], "detents": detents}
    buzzed.write_text(json.dumps({**document, "between": [[], []]}))
    waived = ("--waive", "gap", "--waive", "interrupt")
    result = run(str(FLAGSHIP), "--switch", str(buzzed), *waived)
    assert result.exit_code == 1
    assert "rule 1: BIAS_RETURN and CHASSIS" in result.output
    assert "stops for a moment" not in result.output


def test_a_switch_whose_poles_read_closed_on_each_other_half_way_is_not_fitted(tmp_path) -> None:
    """No timing describes it, so no comparison could prove what it shorts while it turns."""
    buzzed = tmp_path / "switch.yaml"
    lugs = {lug: [lug + throw for throw in (1, 2, 3)] for lug in (1, 5, 9, 13)}
    document = {
        "rewire_switch": 1,
        "lugs": [*range(1, 17)],
        "detents": [[[lug, of[at]] for lug, of in lugs.items()] for at in range(3)],
        "between": [[[1, 13]], []],
    }
    buzzed.write_text(json.dumps(document))
    result = run(str(FLAGSHIP), "--switch", str(buzzed))
    assert result.exit_code == 2
    assert "lug 1 reads closed on 13 half way from 1 to 2" in result.output
