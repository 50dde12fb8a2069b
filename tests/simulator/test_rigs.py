"""Sixteen rigs made by dice, with wirings changed at random: each figure is the simulator's."""

from pathlib import Path

import pytest

from tests.simulator import judge, ohmmeter, rigs, told
from tests.simulator.ledger import Ledger


@pytest.mark.parametrize("first", range(0, 40, 20))
def test_eight_rigs_and_their_variations(first: int, tmp_path: Path, ledger: Ledger) -> None:
    files = rigs.write(tmp_path, rigs.Fuller, range(first, first + 8))
    judged = told.values_at_once(files)
    for number, (rig, result) in enumerate(judged):
        judge.judge(ledger, f"{files[number // 3].stem} {rig.name}", rig, result)
    ledger.settle()
    assert ledger.compared > 1_500


def test_rules_and_ohmmeter_on_rigs(tmp_path: Path, ledger: Ledger) -> None:
    files = rigs.write(tmp_path, rigs.Maker, range(100, 102))
    fitted = told.values_at_once(files)
    for words, judged, key in (
        (("check",), ohmmeter.rules, "findings"),
        # each touch is held to the simulator, whatever list it is on: no search for the shortest
        (("buzz", "--seconds", "0"), ohmmeter.table, "tests"),
    ):
        results = [r for document in told.machine(*words, *files) for r in document["results"]]
        for (rig, values), result in zip(fitted, results, strict=True):
            assert values["wiring"] == result["wiring"]
            judged(ledger, f"{values['wiring']}", rig, result[key])
    ledger.settle()
    assert ledger.compared > 100
