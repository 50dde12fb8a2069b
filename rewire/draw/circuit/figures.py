"""Figures: what stands at each branch, its symbol and the words beside it, measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rewire.draw.measure import line_mm, visible, width_mm, wrap
from rewire.values.network import Network, NetworkBranch
from rewire.words.quantity import in_ohms, with_unit

POINTS = 7.5
"""Size of the words beside a symbol."""
WIDEST = 36.0
"""Words wider than this are wrapped, mm."""
LUG = 1.9
"""Diameter of a lug, mm."""
_QUIET = 0.35
_SIZES: Mapping[str, tuple[float, float]] = {
    "resistor": (3.4, 9.0), "rheostat": (7.6, 9.0), "meter": (9.0, 9.0), "lamp": (7.0, 7.0),
    "fuse": (3.4, 8.0), "choke": (3.2, 10.0), "capacitor": (6.0, 5.0), "diode": (4.6, 5.0),
    "contact": (LUG, 8.5), "drive": (8.0, 8.0), "part": (14.0, 8.0),
}  # fmt: skip
"""Width and height of the symbols, mm."""


@dataclass(frozen=True, slots=True)
class Words:
    """One line beside a symbol."""

    text: str
    shows: str
    bold: bool = False
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Figure:
    """A branch as it is drawn: sizes in mm, words from the top down.

    ``kind`` chooses how it is drawn; ``lugs`` are the full names at its top and
    bottom; ``tail`` is how many of its words belong to the bottom (of a contact).
    """

    kind: str
    symbol: str
    shows: str
    lugs: tuple[str, str]
    width: float
    height: float
    words: tuple[Words, ...]
    tail: int = 0
    letter: str = ""
    plus: int = 0
    """Where plus is: -1 at the top, 1 at the bottom, 0 at neither."""

    @property
    def words_width(self) -> float:
        """Of the widest line, mm."""
        return max((width_mm(w.text, POINTS, w.bold) for w in self.words), default=0.0)

    @property
    def words_height(self) -> float:
        """Of all lines, mm."""
        return len(self.words) * line_mm(POINTS)


def figure_of(branch: NetworkBranch, upright: bool) -> Figure:
    """The figure of a branch.

    Args:
        branch: of a network.
        upright: whether its first end is at the top.
    """
    lugs = branch.terminals if upright else (branch.terminals[1], branch.terminals[0])
    if branch.kind == "contact":
        return _contact(branch, lugs)
    if branch.kind == "drive":
        return _standing(branch, lugs, upright)
    kind = "rheostat" if branch.kind == "pot" else branch.kind
    width, height = _SIZES[kind]
    symbol = "diode-up" if kind == "diode" and not upright else kind
    shows = f"part:{branch.part}"
    words = [
        *_lines(branch.part, shows, bold=True),
        *_lines(branch.value, shows),
        *_lines(_drop(branch), shows, grey=_QUIET),
    ]
    if kind != "meter":
        return Figure(kind, symbol, shows, lugs, width, height, tuple(words))
    letter = _letter(branch.value)
    plus = -1 if upright else 1
    return Figure(kind, symbol, shows, lugs, width, height, tuple(words), 0, letter, plus)


def _contact(branch: NetworkBranch, lugs: tuple[str, str]) -> Figure:
    width, height = _SIZES["contact"]
    top, bottom = (_lines(lug, f"lug:{lug}", bold=True) if lug else [] for lug in lugs)
    tall = max(height, (len(top) + len(bottom)) * line_mm(POINTS))
    return Figure(
        "contact", "lug", f"part:{branch.part}", lugs, width, tall, (*top, *bottom), len(bottom)
    )


def _standing(branch: NetworkBranch, lugs: tuple[str, str], upright: bool) -> Figure:
    """A standing current, drawn as its source."""
    leaves, enters = branch.terminals
    shows = f"drive:{enters}"
    said = f"{branch.value} {enters} to {leaves}, flowing as well"
    width, height = _SIZES["drive"]
    symbol = "current-down" if upright else "current-up"
    return Figure("drive", symbol, shows, lugs, width, height, tuple(_lines(said, shows)))


def source_figure(network: Network) -> Figure:
    """What drives the reading, from its second place to its first inside the source."""
    reading = network.reading
    current = reading.quantity == "current"
    said = with_unit(reading.full_scale, "A" if current else "V")
    if reading.ac:
        said += " AC"
    words = [*_lines(said, "source", bold=True)]
    if not current and reading.source_resistance:
        words += _lines(f"behind {in_ohms(reading.source_resistance)}", "source")
    if not current and network.amps is not None:
        words += _lines(with_unit(network.amps, "A"), "source", grey=_QUIET)
    if current and network.volts is not None:
        words += _lines(with_unit(network.volts, "V"), "source", grey=_QUIET)
    width, height = _SIZES["drive"]
    symbol = "current-up" if current else "voltage"
    plus = 0 if current else -1
    return Figure("drive", symbol, "source", ("", ""), width, height, tuple(words), plus=plus)


def part_figure(number: int) -> Figure:
    """A box that stands for a part of the picture drawn elsewhere."""
    width, height = _SIZES["part"]
    shows = f"sheet part:{number}"
    said = ("drawn as", f"part {number}:", f"{number}a on top,", f"{number}b below")
    words = [Words(line, shows) for line in said]
    return Figure(
        "part", "box", shows, ("", ""), width, height, tuple(words), letter=f"part {number}"
    )


def _letter(value: str) -> str:
    """The unit in which the meter counts, for the middle of its circle."""
    unit = value.partition(",")[0].rpartition(" ")[2]
    return unit or "A"


def _drop(branch: NetworkBranch) -> str:
    if branch.volts is None or abs(branch.volts) < 1e-12:
        return ""
    return with_unit(abs(branch.volts), "V")


def _lines(text: str, shows: str, *, bold: bool = False, grey: float = 0.0) -> Sequence[Words]:
    if not text:
        return []
    return [Words(line, shows, bold, grey) for line in wrap(visible(text), WIDEST, POINTS, bold)]
