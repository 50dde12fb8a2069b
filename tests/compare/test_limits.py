"""Work grows with the controls that matter, not with all of them."""

from __future__ import annotations

import sys
from typing import Any

import pytest

from rewire.circuit.states import Frame, LimitReached
from tests.compare.rigs import bandswitch, chassis_rig, result_of


def test_twelve_unrelated_ten_position_controls_cost_120_states(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A million million states, of which only each control's own ten are ever asked for."""
    sizes: dict[tuple[str, ...], int] = {}
    plain = Frame.__post_init__

    def counted(frame: Frame) -> None:
        plain(frame)
        sizes[tuple(control.name for control in frame.controls)] = frame.size

    monkeypatch.setattr(Frame, "__post_init__", counted)
    result = result_of(chassis_rig(12, 10))
    assert result.states == 10**12
    dropped = [f for f in result.findings if f.kind == "dropped"]
    found = [dict(state.at) for finding in dropped for state in finding.states]
    assert sorted(map(str, found)) == sorted(str({f"K{k}": "P0"}) for k in range(12))
    asked = {names: size for names, size in sizes.items() if names}
    assert sum(asked.values()) == 120


@pytest.mark.parametrize(
    "timings",
    [
        ("shorting", "non-shorting"),
        ("non-shorting", "shorting"),
        ("shorting", "shorting"),
        ("unknown", "unknown"),
    ],
)
def test_a_bandswitch_of_24_sections_is_no_problem(timings: tuple[str, str]) -> None:
    """Three to the power of 24 combinations, of which only the extremes are looked at."""
    result = result_of(bandswitch(24, 3, timings))
    same = timings[0] == timings[1]
    assert result.verdict == ("kept" if same else "broken")
    assert bool([f for f in result.findings if f.steps]) != same


def ladder(controls: int) -> dict[str, Any]:
    """A chain of ten-position switches between two points, over lugs alone."""
    parts = {f"S{k}": {"switch": "SP10T", "control": f"K{k}"} for k in range(controls)}
    wires = [["A", "S0.A"], [f"S{controls - 1}.A1", "B"]]
    wires += [[f"S{k}.A1", f"S{k + 1}.A"] for k in range(controls - 1)]
    return {
        "rewire": "1",
        "title": "ladder",
        "controls": {f"K{k}": [f"P{n}" for n in range(10)] for k in range(controls)},
        "points": {"A": {}, "B": {}},
        "wirings": {
            "original": {"parts": parts, "wires": wires},
            "substitute": {"parts": parts, "wires": wires[1:]},
        },
    }


def test_beyond_the_limit_is_refused_by_name() -> None:
    """Seven ten-position controls in one way: ten million states."""
    result = result_of(ladder(5))
    assert [len(f.states) for f in result.findings if f.kind == "dropped"] == [1]
    with pytest.raises(LimitReached, match=r"between A and B: the controls K0, .* K6"):
        result_of(ladder(7))


def test_a_rule_beyond_the_limit_is_refused_by_its_number_in_the_file() -> None:
    """The wirings are the same, so nothing else asks about so many controls together."""
    spec = ladder(7)
    spec["wirings"]["substitute"] = spec["wirings"]["original"]
    spec["rules"] = [{"isolate": ["A", "S6.A2"]}]
    with pytest.raises(
        LimitReached, match=r"^rule 1 \(isolate A and S6.A2\): the controls K0, .* K6"
    ):
        result_of(spec)


@pytest.mark.parametrize(
    ("here", "there"), [("shorting", "non-shorting"), ("non-shorting", "shorting")]
)
def test_a_move_beyond_the_limit_is_refused_by_name(here: str, there: str) -> None:
    """Seven controls stand still while one moves: ten million states of the others."""
    spec = ladder(8)
    original = spec["wirings"]["original"]
    wires = [*original["wires"], ["S0.A2", "S0.A1"], ["S0.A3", "C"], ["S0.A4", "C"]]
    spec["points"]["C"] = {}
    for wiring, timing in (("original", here), ("substitute", there)):
        parts = {
            name: {**part, "timing": timing if name == "S0" else "non-shorting"}
            for name, part in original["parts"].items()
        }
        spec["wirings"][wiring] = {"parts": parts, "wires": wires}
    with pytest.raises(LimitReached, match=r"^moving K0: the (ways|paths) between . and .: .* K7"):
        result_of(spec)


def test_no_numerics_and_no_drawing_on_the_way_to_a_check() -> None:
    """A fresh interpreter has loaded none of them after a check, with rules about ohms too."""
    import subprocess

    program = (
        "import sys; from rewire.reading import read_spec; from rewire.compare import compare; "
        "compare(read_spec('specs/valve-amplifier.yaml')); "
        "print(sorted({'numpy', 'scipy', 'matplotlib', 'schemdraw'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
