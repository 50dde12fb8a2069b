"""Parts in words: what to take from the drawer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rewire.records.spec import (
    Capacitor,
    Choke,
    Diode,
    Fuse,
    InSeries,
    Lamp,
    Meter,
    Part,
    Piece,
    Pieces,
    Pot,
    Resistor,
    Strip,
    Switch,
)
from rewire.words.quantity import in_ohms, with_unit

_STYLES = {"relay": "relay", "jack": "jack"}


def described(part: Part, values: Mapping[str, str]) -> str:
    """Kind, value and ratings of a part.

    Args:
        part: any part.
        values: part → value, for those that the spec leaves to be fitted.
    """
    return ", ".join(_words(part, values))


def _words(part: Part, values: Mapping[str, str]) -> Iterator[str]:
    if isinstance(part, Switch):
        yield from _switch(part)
    elif isinstance(part, Meter):
        yield from _meter(part)
    elif isinstance(part, Resistor):
        yield from _resistor(part, values)
    elif isinstance(part, Pot):
        yield f"pot {in_ohms(part.ohms)}"
        yield from _percent(part.tolerance_percent)
        yield from _rated(part.rating_watts, "W")
        if part.turns:
            yield f"{part.turns:g} turns"
    else:
        yield from _others(part)


def _switch(part: Switch) -> Iterator[str]:
    kind = "switch" if part.style is None else _STYLES.get(part.style, f"{part.style} switch")
    yield f"{kind} of {len(part.terminals)} lugs" if part.form == "table" else f"{part.form} {kind}"
    timings = {section.timing for section in part.sections}
    if len(timings) == 1:
        yield {"shorting": "make before break", "non-shorting": "break before make"}.get(
            next(iter(timings)), "timing unknown"
        )
    elif timings:
        yield "timing mixed: " + "; ".join(
            f"{s.pole or '/'.join(s.lugs)} {s.timing}" for s in part.sections
        )
    yield from _rated(part.rating.volts, "V")
    yield from _rated(part.rating.amps, "A")


def _meter(part: Meter) -> Iterator[str]:
    kind = " AC" if part.ac else ""
    if part.full_scale_amps is not None:
        yield f"meter {with_unit(part.full_scale_amps, 'A')}{kind}"
    else:
        yield f"meter {with_unit(part.full_scale_volts, 'V')}{kind}"
    if part.resistance is not None:
        yield in_ohms(part.resistance)
    if part.zero != "left":
        yield f"zero {part.zero}"
    if part.scales:
        yield f"scales {', '.join(part.scales)}"


def _resistor(part: Resistor, values: Mapping[str, str]) -> Iterator[str]:
    if part.pieces is not None:
        yield f"resistor {_pieces(part.pieces)}"
    elif part.name in values:
        yield f"resistor {values[part.name]}"
    else:
        yield f"resistor, value still open: see rewire values (for {part.fit_for})"
    yield from _percent(part.tolerance_percent)
    yield from _rated(part.rating_watts, "W")
    yield from _rated(part.working_volts, "V")


def _pieces(pieces: Pieces) -> str:
    if isinstance(pieces, Piece):
        return in_ohms(pieces.ohms)
    joining = " + " if isinstance(pieces, InSeries) else " || "
    inner = (f"({_pieces(p)})" if not isinstance(p, Piece) else _pieces(p) for p in pieces.items)
    return joining.join(inner)


def _others(part: Part) -> Iterator[str]:
    if isinstance(part, Capacitor):
        yield f"capacitor {with_unit(part.farads, 'F')}"
        yield from _rated(part.rating_volts, "V")
    elif isinstance(part, Choke):
        yield f"choke {with_unit(part.henries, 'H')}, {in_ohms(part.resistance)}"
    elif isinstance(part, Diode):
        kind = part.material or f"{with_unit(part.forward_volts, 'V')} forward"
        yield f"diode, {kind}"
    elif isinstance(part, Lamp):
        yield f"lamp {with_unit(part.rated_volts, 'V')}"
        yield from _rated(part.rated_amps, "A")
    elif isinstance(part, Fuse):
        yield f"fuse {with_unit(part.rated_amps, 'A')}"
    elif isinstance(part, Strip):
        yield f"tag strip of {len(part.terminals)}"


def _percent(value: float | None) -> Iterator[str]:
    if value is not None:
        yield f"{value:g} %"


def _rated(value: float | None, unit: str) -> Iterator[str]:
    if value is not None:
        yield with_unit(value, unit)
