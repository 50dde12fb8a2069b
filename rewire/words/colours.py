"""Wire colours by their letters.

Source: IEC 60757 (code for designation of colours): two letters for each
colour, those of a wire of several colours joined. The standard joins them in the
order of its table; the order typed is kept, for a tracer is commonly written
last (common practice, no source). Lower case is read too and made upper case.
"""

from __future__ import annotations

from rewire.words.wording import Wrong

COLOURS = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "GD": "gold",
    "TQ": "turquoise",
    "SR": "silver",
}
"""Letters → colour, in the order of the standard's table."""

_MOST = 4
_OTHER_NAMES = {name: letters for letters, name in COLOURS.items()} | {"gray": "GY"}


class BadColour(Wrong):
    """Not the letters of a colour; ``hint`` says which would be."""


def read_colour(text: str) -> str:
    """The letters of a wire's colours, upper case.

    Raises:
        BadColour: not letters of IEC 60757.

    >>> read_colour("bkwh")
    'BKWH'
    """
    letters = text.strip().upper()
    pairs = [letters[i : i + 2] for i in range(0, len(letters), 2)]
    if letters and len(pairs) <= _MOST and all(pair in COLOURS for pair in pairs):
        return letters
    word = text.strip().lower()
    if word in _OTHER_NAMES:
        raise BadColour("a colour is written in letters", f"{word} is {_OTHER_NAMES[word]}")
    known = ", ".join(f"{pair} {name}" for pair, name in COLOURS.items())
    raise BadColour("these are not letters of IEC 60757", f"write two letters for each: {known}")
