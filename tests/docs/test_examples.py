"""The example files beside the guide: read, and worth what their heads say of them."""

from __future__ import annotations

import json
from pathlib import Path

import pypdf
from click.testing import CliRunner

from rewire.cli import rewire

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "docs" / "examples"
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")
SUPPLY = str(ROOT / "specs" / "bench-supply.yaml")


def document(status: int, *args: str) -> dict[str, object]:
    done = CliRunner().invoke(rewire, [*args, "--json"])
    assert done.exit_code == status, done.output
    found: dict[str, object] = json.loads(done.stdout)
    return found


def test_the_drawer_holds_one_switch_that_will_do_and_one_that_may() -> None:
    found = document(0, "fit", FLAGSHIP, "--drawer", str(EXAMPLES / "drawer.yaml"))
    timings = [one["timing"] for one in found["results"] if one["feasible"]]  # type: ignore
    assert [bool(timing) for timing in timings] == [False, True]


def test_values_are_chosen_from_the_drawer() -> None:
    args = ("--wiring", "substitute", "--drawer", str(EXAMPLES / "drawer.yaml"))
    found = document(0, "values", FLAGSHIP, *args)
    chosen = found["results"][0]["fits"][0]["chosen_ohms"]  # type: ignore[index]
    # 38.46 Ω within 1 %: 39 Ω alone is 1.4 % off, 39 Ω || 2.2 kΩ is 0.37 % off, by hand
    assert abs(chosen - 39 * 2200 / 2239) < 1e-6


def test_the_unknown_switch_is_a_dpdt_and_serves_the_bench_supply() -> None:
    found = document(0, "identify", "switch", str(EXAMPLES / "buzz-out.yaml"))
    assert "'DPDT'" in str(found)
    document(0, "fit", SUPPLY, "--switch", str(EXAMPLES / "buzz-out.yaml"))


def test_the_log_finds_the_forgotten_jumper_and_prints_as_built(tmp_path: Path) -> None:
    log = str(EXAMPLES / "bench-log.yaml")
    found = document(1, "buzz", FLAGSHIP, "--found", log)
    first = found["results"][0]["suspects"][0]  # type: ignore[index]
    assert first["wire"] == "J6"
    assert first["fault"].endswith("left out")
    place = tmp_path / "as-built.pdf"
    done = CliRunner().invoke(
        rewire, ["sheet", FLAGSHIP, "--log", log, "--sections", "record,owner", "-o", str(place)]
    )
    assert done.exit_code == 0, done.output
    said = " ".join(page.extract_text() for page in pypdf.PdfReader(place).pages).replace(
        "\xa0", " "
    )
    for word in ("S4.C1", "229 mA", "421 V", "not tested"):
        assert word in said
