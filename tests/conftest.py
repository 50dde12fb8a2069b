"""Settings that every test shares."""

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
