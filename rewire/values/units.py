"""Quantities as a person writes them: ``0.526 Ω``, ``12.5 mA``, ``4.99 kΩ``."""

from __future__ import annotations

from math import floor, isfinite, log10

_PREFIXES = {-9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_PLAIN_BELOW_ONE = 1e-2


def with_unit(value: float | None, unit: str, digits: int = 4) -> str:
    """A quantity with the prefix that leaves one to three digits before the point.

    >>> with_unit(0.0125, "A"), with_unit(4990.0, "Ω"), with_unit(-0.09, "V"), with_unit(0, "W")
    ('12.5 mA', '4.99 kΩ', '-90 mV', '0 W')
    """
    if value is None:
        return "unknown"
    if not isfinite(value):
        return "unlimited" if value > 0 else "-unlimited"
    if value == 0.0 or abs(value) < 1e-13:
        return f"0 {unit}"
    rounded = float(f"{value:.{digits}g}")
    power = min(max(3 * floor(log10(abs(rounded)) / 3 + 1e-12), -9), 9)
    return f"{_trimmed(rounded / 10.0**power, digits)} {_PREFIXES[power]}{unit}"


def in_ohms(value: float | None, digits: int = 4) -> str:
    """A resistance; from 10 mΩ to 1 Ω it is written in ohms, as on a drawing.

    >>> in_ohms(0.526), in_ohms(0.00502), in_ohms(199500.0)
    ('0.526 Ω', '5.02 mΩ', '199.5 kΩ')
    """
    if value is not None and _PLAIN_BELOW_ONE <= abs(value) < 1.0:
        return f"{float(f'{value:.{digits}g}'):g} Ω"
    return with_unit(value, "Ω", digits)


def in_percent(value: float | None, digits: int = 2) -> str:
    """A percentage with its sign.

    >>> in_percent(-0.1234), in_percent(3.0), in_percent(None)
    ('-0.12 %', '+3.00 %', 'unknown')
    """
    if value is None:
        return "unknown"
    shown = f"{value:+.{digits}f}"
    return f"{shown.replace('-', '', 1) if float(shown) == 0.0 else shown} %".replace(
        "+0.00 ", "0.00 "
    )


def _trimmed(value: float, digits: int) -> str:
    text = f"{float(f'{value:.{digits}g}'):.{digits}f}"
    return text.rstrip("0").rstrip(".")
