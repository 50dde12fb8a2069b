"""Of switches wired equally well the one that goes into the panel comes first; none is refused.

The sizes are invented. That drilling is more work than none, and that a switch which does not go in
at all is worse than drilling, is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from rewire.cli import rewire

FLAGSHIP = "specs/valve-amplifier.yaml"
FORM = {"switch": "3P3T", "timing": {"A": "non-shorting", "B": "non-shorting", "C": "shorting"},
        "rating": {"volts": "250 V", "amps": "1 A", "shaft_volts": "500 V"}}  # fmt: skip
GOES_IN = {"bush": "3/8-32", "shaft": "1/4 in", "shaft_form": "round", "depth": "50 mm",
           "index": "30 deg", "stops": "3"}  # fmt: skip
WORSE = [
    GOES_IN,
    {key: GOES_IN[key] for key in ("bush", "shaft")},  # the rest must be measured first
    GOES_IN | {"bush": "M12x1"},
    GOES_IN | {"bush": "M12x1", "shaft": "6 mm"},
    GOES_IN | {"depth": "90 mm"},  # 70 mm are free
]
"""Mounts, each more work than the one before."""


@pytest.mark.parametrize("order", [(4, 2, 0, 3, 1), (1, 3, 0, 2, 4)])
def test_the_drawer_is_ranked_by_the_panel_after_the_wiring(
    tmp_path: Path, order: tuple[int, ...]
) -> None:
    switches = [FORM | {"mount": WORSE[number]} for number in order]
    more_jumpers = {"switch": "2P3T", "timing": "non-shorting", "mount": GOES_IN}
    drawer = tmp_path / "drawer.yaml"
    drawer.write_text(yaml.safe_dump({"rewire_drawer": 1, "switches": [more_jumpers, *switches]}))
    told = CliRunner().invoke(
        rewire, ["fit", "--json", "--drawer", str(drawer), FLAGSHIP, "--time-limit", "900"]
    )
    results = yaml.safe_load(told.stdout)["results"]
    assert [result["feasible"] for result in results] == [True] * 5 + [False]
    ranked = [int(result["offer"].removeprefix("switches-")) - 2 for result in results[:5]]
    assert [order[number] for number in ranked] == [0, 1, 2, 3, 4]
    assert [one["kind"] for one in results[4]["mounting"]["misfits"]] == ["depth"]


def test_what_is_written_into_the_spec_keeps_its_mount(tmp_path: Path) -> None:
    buzzed = tmp_path / "switch.yaml"
    throws = {"A": "non-shorting", "B": "non-shorting", "C": "shorting"}
    buzzed.write_text(yaml.safe_dump({
        "rewire_switch": 1, "lugs": [f"{pole}{n}" for pole in throws for n in ("", 1, 2, 3)],
        "detents": {n: [[pole, f"{pole}{n}"] for pole in throws] for n in (1, 2, 3)},
        "mount": GOES_IN | {"index": "36 deg"},
    }))  # fmt: skip
    spec = tmp_path / "s.yaml"
    spec.write_bytes(Path(FLAGSHIP).read_bytes())
    (tmp_path / "scans").symlink_to(Path("specs/scans").resolve())
    run = CliRunner().invoke
    told = run(rewire, ["fit", str(spec), "--switch", str(buzzed), "--write", "tried"])
    assert "36° from position to position, the legend has 30°" in " ".join(told.output.split())
    checked = run(rewire, ["check", "--json", "--wiring", "tried", str(spec)])
    (result,) = yaml.safe_load(checked.stdout)["results"]
    (mounting,) = result["mountings"]
    assert [one["kind"] for one in mounting["misfits"]] == ["index"]
    block = run(rewire, ["identify", "switch", str(buzzed)]).output
    assert "index: 36 deg" in block.replace('"', "")
