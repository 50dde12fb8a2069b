"""Plots of the packet: what a reading may be off, what a pot reaches, a calibration as measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rewire.bench.calibration import Run
from rewire.report.section import Illustration, ReportSection
from rewire.values.answers import PotAnswer, Readout, WiringValues

_STEPS = (0.0, 0.25, 0.5, 0.75, 1.0)
_FEWEST = 3
"""Points of a run from which a plot says more than its table."""


def plot_sections(values: Iterable[WiringValues]) -> Iterator[ReportSection]:
    """Of each plan the errors of its readings over the scale, and the reach of its pots."""
    for own in values:
        drawn = [plot for one in own.readings for plot in _errors(one)]
        drawn += [plot for one in own.pots for plot in _reach(one)]
        yield ReportSection("plots", f"How well it reads: {own.wiring}", tuple(drawn))


def _errors(one: Readout) -> Iterator[Illustration]:
    if one.error_percent is None or None in (one.worst_low_percent, one.worst_high_percent):
        return  # without the tolerances there is no band to be seen
    from rewire.draw.plots import ErrorCurve, error_plot

    bounds = [(100.0 * share, one.allowed(share)) for share in _STEPS]
    curve = ErrorCurve(
        read=[(100.0 * share, share * one.error_percent) for share in _STEPS],
        low=[(at, low) for at, (low, _) in bounds], high=[(at, high) for at, (_, high) in bounds],
    )  # fmt: skip
    yield _plot(f"{one.name}: error as the values stand, and the band in which a build is good",
                error_plot(curve))  # fmt: skip


def _reach(pot: PotAnswer) -> Iterator[Illustration]:
    if pot.at_ccw is None or pot.at_cw is None or pot.setting_percent is None:
        return
    from rewire.draw.plots import PotCurve, pot_plot

    reached = [(0.0, 100.0 * pot.at_ccw), (pot.setting_percent, 100.0), (100.0, 100.0 * pot.at_cw)]
    low, high = pot.lowest_percent, pot.highest_percent
    needed = None if low is None or high is None else (low, high)
    yield _plot(
        f"{pot.part}: what {pot.reading} shows at full scale at both stops and as set; "
        "grey: settings that the tolerances may ask for",
        pot_plot(PotCurve(reached, needed)),
    )


def run_plots(run: Run) -> Iterator[Illustration]:
    """A calibration as it was read, against what is allowed."""
    if len(run.points) < _FEWEST:
        return
    from rewire.draw.plots import ErrorCurve, error_plot

    read = [(100.0 * p.entry.applied / run.full_scale, p) for p in run.points]
    bounds = sorted((at, p.low_percent, p.high_percent) for at, p in read
                    if p.low_percent is not None and p.high_percent is not None)  # fmt: skip
    curve = ErrorCurve(
        read=[(at, p.error_percent) for at, p in read],
        low=[(at, low) for at, low, _ in bounds],
        high=[(at, high) for at, _, high in bounds],
    )
    yield _plot(f"{run.reading}: error as measured, and what is allowed", error_plot(curve))


def _plot(title: str, svg: str) -> Illustration:
    from rewire.draw.plots import HEIGHT, WIDTH

    return Illustration(title, svg, WIDTH, HEIGHT)
