"""Random switches, up to 6 poles by 12 throws with up to 60 wires: all legible."""

from __future__ import annotations

import pytest

from rewire.draw.lugview import lug_view
from rewire.draw.scene import Paper
from tests.draw.audit import audit
from tests.draw.builders import random_view
from tests.draw.lugview_audit import audit_lug_view

SEEDS = 4
IN_ONE = 2


@pytest.mark.parametrize("first", range(0, SEEDS, IN_ONE))
def test_random_switches_are_legible_and_complete(first: int) -> None:
    for seed in range(first, first + IN_ONE):
        spec, wiring, name = random_view(seed)
        paper: Paper = "a4" if seed % 2 else "letter"
        seen = "front" if seed % 3 == 0 else "behind"
        scenes = lug_view(spec, wiring, name, seen_from=seen, paper=paper)  # type: ignore[arg-type]
        trouble = [t for scene in scenes for t in audit(scene)]
        trouble += audit_lug_view(scenes, spec, wiring, name)
        assert trouble == [], f"seed {seed}"
