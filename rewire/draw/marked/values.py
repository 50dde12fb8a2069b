"""What a part is worth, in a few characters: ``15 Ω``, ``500 µA``, ``4P3T``."""

from __future__ import annotations

from collections.abc import Mapping

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
from rewire.values import WiringValues
from rewire.words.quantity import in_ohms, with_unit

Chosen = Mapping[str, str]
"""Part → the value that was found for it."""


def chosen_of(values: WiringValues | None) -> Chosen:
    """The values that were left open in the spec and have been found."""
    if values is None:
        return {}
    found = {f.part: in_ohms(f.chosen_ohms) for f in values.fits if f.chosen_ohms is not None}
    for pot in values.pots:
        if pot.setting_percent is not None:
            found[pot.part] = f"at {pot.setting_percent:.0f} %"
    return found


def value_of(part: Part, chosen: Chosen) -> str:
    """The main value of a part as it is written beside its symbol."""
    if isinstance(part, Resistor):
        return _resistor(part, chosen)
    if isinstance(part, Pot):
        setting = chosen.get(part.name) or _setting(part)
        return f"{in_ohms(part.ohms)} {setting}".rstrip()
    if isinstance(part, Meter):
        amps = part.full_scale_amps
        return with_unit(part.full_scale_volts, "V") if amps is None else with_unit(amps, "A")
    if isinstance(part, Switch):
        return "" if part.form == "table" else part.form
    return _other(part)


def _resistor(part: Resistor, chosen: Chosen) -> str:
    if part.name in chosen:
        return chosen[part.name]
    if part.pieces is None:
        return "? Ω"
    return _pieces(part.pieces)


def _pieces(pieces: Pieces, inner: bool = False) -> str:
    if isinstance(pieces, Piece):
        return in_ohms(pieces.ohms)
    joint = " + " if isinstance(pieces, InSeries) else " || "
    said = joint.join(_pieces(item, inner=True) for item in pieces.items)
    return f"({said})" if inner else said


def _setting(part: Pot) -> str:
    return "" if part.setting_percent is None else f"at {part.setting_percent:g} %"


def _other(part: Part) -> str:
    if isinstance(part, Capacitor):
        return _farads(part.farads)
    if isinstance(part, Choke):
        return with_unit(part.henries, "H")
    if isinstance(part, Diode):
        return part.material or with_unit(part.forward_volts, "V")
    if isinstance(part, Lamp):
        return with_unit(part.rated_volts, "V")
    if isinstance(part, Fuse):
        return with_unit(part.rated_amps, "A")
    if isinstance(part, Strip):
        return f"{len(part.terminals)} lugs"
    return ""


def _farads(farads: float) -> str:
    """Units of a picofarad: nothing smaller is drawn as a part."""
    if farads < 1e-9:
        return f"{farads * 1e12:.4g} pF"
    return with_unit(farads, "F")
