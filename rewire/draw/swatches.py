"""A wire's colours as a small bar beside the letters that say the same."""

from __future__ import annotations

from rewire.draw.scene import Item, Symbol, around

SWATCH = (4.6, 2.0)
"""Width and height of a colour swatch, mm."""
SHADES = {
    "BK": "#1a1a1a", "BN": "#7b4a22", "RD": "#c9211e", "OG": "#f07d00", "YE": "#f5d800",
    "GN": "#2f8f2f", "BU": "#1f5fbf", "VT": "#7a3fa0", "GY": "#8c8c8c", "WH": "#ffffff",
    "PK": "#f3a6bd", "GD": "#cfa93a", "TQ": "#3fbfb5", "SR": "#c9ced3",
}  # fmt: skip
"""Letters of IEC 60757 → the shade a swatch is filled with (our own choice of shades)."""


def swatch(colour: str, x: float, y: float, shows: str) -> list[Item]:
    """A small bar in the wire's colours, side by side where it has several."""
    letters = [colour[i : i + 2] for i in range(0, len(colour), 2)]
    width, height = SWATCH
    each = width / max(1, len(letters))
    left = x - width / 2
    return [
        Symbol(
            "swatch", around((left + each * (n + 0.5), y), each, height), shows,
            width=0.15, fill=SHADES.get(pair, "white"),
        )
        for n, pair in enumerate(letters)
    ]  # fmt: skip
