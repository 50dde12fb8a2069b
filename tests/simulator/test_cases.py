"""Specs in which figures were wrong once, or are easily got wrong: each is the simulator's."""

import pytest

from tests.simulator import judge, told
from tests.simulator.ledger import Ledger

CASES = sorted((told.ROOT / "tests" / "values" / "numbers").glob("*.yaml"))


@pytest.mark.parametrize("first", range(4))
def test_every_wiring_of_the_cases(first: int, ledger: Ledger) -> None:
    for file in CASES[first::4]:
        for rig, result in told.values([file]):
            judge.judge(ledger, f"{file.stem} {rig.name}", rig, result)
    ledger.settle()
    assert ledger.compared > 100
