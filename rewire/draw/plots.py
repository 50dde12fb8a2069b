"""Plots, small and in black and white: how far off a reading is, what a pot reaches, a calibration.

They draw finished figures and work out nothing. Text stays text; the same figures give the same
bytes.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure

WIDTH, HEIGHT = 92.0, 52.0
"""Of a plot, mm."""
_INCH = 25.4
_LOOK: Any = {
    "svg.fonttype": "none", "svg.hashsalt": "rewire", "font.family": "DejaVu Sans",
    "font.size": 8.0, "axes.labelsize": 8.0, "xtick.labelsize": 8.0, "ytick.labelsize": 8.0,
    "axes.linewidth": 0.6, "lines.linewidth": 1.2, "axes.spines.top": False,
    "axes.spines.right": False,
}  # fmt: skip

Curve = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class ErrorCurve:
    """Errors over the scale, in percent of full scale, in the order in which they were read."""

    read: Curve
    low: Curve
    """From where, and to where, they are good; empty where that is not known."""
    high: Curve


@dataclass(frozen=True, slots=True)
class PotCurve:
    """Over the travel from ccw, percent: what the meter takes, percent of full scale."""

    reached: Curve
    needed: tuple[float, float] | None
    """Settings that the tolerances may ask for."""


def error_plot(curve: ErrorCurve) -> str:
    """The errors, rising and falling told apart, on the band in which they are good.

    Returns:
        An ``svg`` element of ``WIDTH`` by ``HEIGHT`` mm.
    """
    figure, axes = _axes("true value, % of full scale", "error, % of full scale")
    if curve.low:
        at, least = zip(*curve.low, strict=True)
        _, most = zip(*curve.high, strict=True)
        axes.fill_between(at, least, most, facecolor="0.88", edgecolor="0.4", linewidth=0.5)
    axes.axhline(0.0, color="black", linewidth=0.4)
    top = max(range(len(curve.read)), key=lambda n: curve.read[n][0])
    up, down = curve.read[: top + 1], curve.read[top:]
    axes.plot(*zip(*up, strict=True), color="black", marker="^", markersize=4, label="rising")
    if len(down) > 1:
        axes.plot(
            *zip(*down, strict=True), color="black", marker="v", markersize=4, linestyle="--",
            markerfacecolor="white", label="falling",
        )  # fmt: skip
        axes.legend(frameon=False, fontsize=8.0, loc="best")
    return _svg(figure)


def pot_plot(curve: PotCurve) -> str:
    """What a pot reaches from stop to stop, as an ``svg`` element of the same size."""
    figure, axes = _axes("travel from ccw, %", "pointer, % of full scale")
    if curve.needed is not None:
        axes.axvspan(*curve.needed, facecolor="0.88", edgecolor="0.4", linewidth=0.5)
    axes.axhline(100.0, color="black", linewidth=0.6, linestyle="--")
    axes.plot(*zip(*curve.reached, strict=True), color="black", marker="o", markersize=3)
    axes.set_xlim(0.0, 100.0)
    return _svg(figure)


def _axes(across: str, up: str) -> tuple[Figure, Axes]:
    with rc_context(_LOOK):
        figure = Figure(figsize=(WIDTH / _INCH, HEIGHT / _INCH), layout="constrained")
        axes = figure.add_subplot()
        axes.set_xlabel(across)
        axes.set_ylabel(up)
    return figure, axes


def _svg(figure: Figure) -> str:
    with rc_context(_LOOK):
        drawn = io.StringIO()
        figure.savefig(drawn, format="svg", metadata={"Date": None, "Creator": None})
    made = drawn.getvalue()
    return made[made.index("<svg") :]
