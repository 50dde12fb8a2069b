"""The search agrees with trying every landing: on whether there is one, and on the cheapest."""

from __future__ import annotations

import random

import pytest

from rewire.fit.answer import fit_one
from rewire.fit.task import task_of
from rewire.fit.while_switching import WAIVABLE
from rewire.records.switches import Switch
from tests.fit.brute import bare_of, hardwired, landings, with_landing
from tests.fit.rigs import offer_of, random_offer, random_spec, read
from tests.reference.oracle import facts

EVERYTHING = frozenset(WAIVABLE)


def asked(seed: int) -> tuple[random.Random, dict, dict]:
    rng = random.Random(seed)
    spec = random_spec(rng)
    return rng, spec, random_offer(rng, len(spec["controls"]["K"]))


def answer_of(spec: dict, offer: dict, waived: frozenset[str]):
    model = read(spec)
    switch = model.original.parts["S"]
    assert isinstance(switch, Switch)
    return fit_one(task_of(model, switch, waived), offer_of(offer))


def wired(spec: dict) -> bool:
    """Whether the switch does anything at all, and little enough to try everything."""
    return 1 < len(bare_of(spec).stubs) <= 4


@pytest.mark.parametrize("seed", range(40))
def test_at_rest_it_agrees_with_trying_everything(seed: int) -> None:
    _, spec, offer = asked(seed)
    if not wired(spec):
        seed += 100_000
        while not wired(spec):
            _, spec, offer = asked(seed)
            seed += 1
    bare = bare_of(spec)
    least = min((landing.cost for landing in landings(spec, bare, offer)), default=None)
    answer = answer_of(spec, offer, EVERYTHING)
    assert answer.proven
    if least is None:
        wired_past = next(landings(spec, hardwired(bare), offer), None)
        assert answer.feasible == (wired_past is not None)
        assert answer.feasible == bool(answer.task.hardwired)
        return
    found = answer.landing and (answer.landing.connections, answer.landing.jumpers)
    assert found == least
    assert not answer.task.hardwired


def is_kept(spec: dict, bare, offer: dict, landing) -> bool:
    """Whether the reference of the comparison finds nothing at rest and nothing while switching."""
    found = facts(with_landing(spec, bare, offer, landing))
    assert found["rest"] == []
    return found["steps"] == []


def cheapest_kept(spec: dict, offer: dict, most: int) -> tuple[int, int] | None:
    """The cost of the cheapest landing that is kept; None if there is none.

    Raises:
        OverflowError: more landings than can be tried here.
    """
    bare = bare_of(spec)
    ordered = sorted(landings(spec, bare, offer), key=lambda landing: landing.cost)
    if len(ordered) > most:
        raise OverflowError
    return next((one.cost for one in ordered if is_kept(spec, bare, offer, one)), None)


@pytest.mark.parametrize("group", range(4))
def test_while_switching_it_agrees_with_trying_everything(group: int) -> None:
    """Ten cases in each group that are right at rest and small enough to compare one by one."""
    done, refused, seed = 0, 0, 1_000_000 * (group + 1)
    while done < 10:
        seed += 1
        _, spec, offer = asked(seed)
        if not wired(spec):
            continue
        bare = bare_of(spec)
        if next(landings(spec, bare, offer), None) is None:
            continue
        try:
            least = cheapest_kept(spec, offer, 60)
        except OverflowError:
            continue
        answer = answer_of(spec, offer, frozenset())
        assert answer.proven
        if answer.task.hardwired:  # what plain wires are good for is tried at rest, above
            assert least is None
            continue
        found = answer.landing and (answer.landing.connections, answer.landing.jumpers)
        assert found == least, seed
        done += 1
        refused += least is None
