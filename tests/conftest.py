"""Settings that every test shares."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# Two cores, shared: a slow example is not a fault. A failing one prints how to repeat it.
settings.register_profile(
    "rewire", deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
# `make mutants`: the same examples for every mutant, and fewer.
settings.register_profile(
    "mutants", settings.get_profile("rewire"), derandomize=True, max_examples=25
)
settings.load_profile("rewire")

TESTS = Path(__file__).parent
SLOW = (
    "bench/test_buzz.py", "bench/test_buzz_limits.py", "bench/test_calibration.py",
    "bench/test_moves.py", "bench/test_nets.py", "bench/test_order.py", "bench/test_safe_order.py",
    "bench/test_tags.py", "bench/test_wire_plan.py", "circuit/test_graph.py", "cli/test_buzz.py",
    "cli/test_check.py", "cli/test_draw.py", "cli/test_moves.py", "cli/test_new.py",
    "cli/test_sheet.py", "compare/test_company.py", "compare/test_followed.py",
    "compare/test_invariants.py", "compare/test_limits.py", "docs/test_examples.py",
    "docs/test_guide.py", "docs/test_help_examples.py", "docs/test_json.py", "draw/test_audit.py",
    "draw/test_beside.py", "draw/test_circuit_view.py", "draw/test_drawn_circuit.py",
    "draw/test_card.py", "draw/test_drawn_hook_up.py", "draw/test_gallery.py",
    "draw/test_hookup.py", "draw/test_lug_view.py", "draw/test_schematic.py",
    "draw/test_marked.py", "draw/test_paint.py", "draw/test_random_switches.py",
    "draw/test_scanned.py", "draw/test_truth.py", "fit", "hard", "package",
    "reference/test_hub.py", "reference/test_limbs.py", "reference/test_oracle.py", "sheet",
    "simulator", "values/test_bench_shipped.py", "values/test_ideal_meter.py",
    "values/test_mishaps_shipped.py", "values/test_off.py",
    "values/test_written_back.py",
)  # fmt: skip
"""Files and folders that take most time; `make quick` leaves them out, and the largest spec."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is slow."""
    files = {item.path for item in items}
    slow = {file for file in files if any(file.is_relative_to(TESTS / name) for name in SLOW)}
    for item in items:
        if "bandswitch" in item.name or item.path in slow:
            item.add_marker("slow")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """What the tests in ``tests/simulator`` compared, in one line."""
    reports = [report for each in terminalreporter.stats.values() for report in each]
    told = [
        value
        for report in reports
        if getattr(report, "when", None) == "teardown"
        for key, value in report.user_properties
        if key == "simulated"
    ]
    if told:
        compared, by_fractions = sum(one[0] for one in told), sum(one[2] for one in told)
        terminalreporter.write_line(
            f"Simulator: {compared:,} figures compared, worst relative difference "
            f"{max(one[1] for one in told):.1e}; {by_fractions} decided by exact fractions."
        )
