"""The shipped specs and the starters, every wiring: each figure is the simulator's."""

from pathlib import Path

import pytest

from tests.simulator import drawn, judge, ohmmeter, told
from tests.simulator.ledger import Ledger
from tests.simulator.readings import Taken

SPECS = sorted((told.ROOT / "specs").glob("*.yaml"))
WITH_ALL_PAIRS = ("bench-supply", "monitor-jack", "valve-amplifier")
WITH_PICTURES = ("light-meter", "monitor-jack", "valve-amplifier")


def named(*stems: str) -> list[Path]:
    return [file for file in SPECS if file.stem in stems]


@pytest.mark.parametrize("file", SPECS, ids=lambda file: file.stem)
def test_every_wiring_of_the_shipped_specs(file: Path, ledger: Ledger) -> None:
    for rig, result in told.values([file]):
        judge.judge(ledger, rig.name, rig, result)
    ledger.settle()
    assert ledger.compared > 100


@pytest.mark.parametrize("kind", ["meter-switch", "meter", "jack"])
def test_starters(kind: str, tmp_path: Path, ledger: Ledger) -> None:
    file = tmp_path / "starter.yaml"
    told.rewire("new", "--kind", kind, file)
    for rig, result in told.values([file]):
        judge.judge(ledger, rig.name, rig, result)
    ledger.settle()
    assert ledger.compared > 50


def test_rules_at_rest_in_every_state(ledger: Ledger) -> None:
    checked = told.machine("check", *SPECS)
    for file, document in zip(SPECS, checked, strict=True):
        fitted = {rig.name: rig for rig, _ in told.values([file])} if _fits(file) else {}
        for result in document["results"]:
            name = result["wiring"]
            rig = fitted.get(name) or told.Rig(told.load(file), name)
            ohmmeter.rules(ledger, f"{file.stem} {name}", rig, result["findings"])
    ledger.settle()
    assert ledger.compared > 30


def _fits(file: Path) -> bool:
    return "fit, for" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("file", named(*WITH_ALL_PAIRS), ids=lambda file: file.stem)
def test_what_an_ohmmeter_finds_between_every_two_places(file: Path, ledger: Ledger) -> None:
    rigs = {rig.name: rig for rig, _ in told.values([file])}
    [document] = told.machine("buzz", file, "--full")
    for result in document["results"]:
        name = result["wiring"]
        ohmmeter.table(ledger, name, rigs[name], result["tests"])
    ledger.settle()
    assert ledger.compared > 100


@pytest.mark.parametrize("file", named(*WITH_PICTURES), ids=lambda file: file.stem)
def test_figures_printed_in_the_circuit_pictures(
    file: Path, tmp_path: Path, ledger: Ledger
) -> None:
    told.rewire("draw", file, "--view", "circuit", "--format", "svg", "--output", tmp_path)
    for rig, result in told.values([file]):
        for reading in result["readings"]:
            one = Taken(rig, reading["name"], judge.full_state(rig, reading["state"]))
            picture = tmp_path / f"{file.stem}-circuit-{rig.name}-{one.name}.svg"
            if one.answer() == "sum" and picture.exists():
                drawn.figures(ledger, f"{rig.name} {one.name}", one, picture)
    ledger.settle()
    assert ledger.compared > 20
