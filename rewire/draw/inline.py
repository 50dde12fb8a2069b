"""A panel as SVG that stands inside an HTML page: measured as printed, and open to a script.

Nothing in it is style by attribute or by address, so a page may forbid both. Texts keep the
width they were measured with, also where the reader's machine has no DejaVu Sans.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from rewire.draw.devices import DEVICES, Shape
from rewire.draw.measure import MM_PER_POINT
from rewire.draw.outlines import insets, outline, strokes
from rewire.draw.scene import XY, Box, Item, Line, Panel, Picture, Symbol, Text

_DASHES = {"solid": "", "dashed": "5 3", "dotted": "1.2 1.8", "dashdot": "6 2 1.2 2"}
"""In widths of the line, as the printed pictures have them."""
_REACH = 2.2
"""How wide a line is to the pointer, mm."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A contact drawn between two lugs; ``attributes`` tell a script when it is closed."""

    points: tuple[XY, ...]
    attributes: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Names:
    """What a script is to call the things of a picture.

    ``of`` makes a name of an item's ``shows``, or several with blanks between; empty: nothing
    lights up with it. ``said`` says in words what an item shows that can be reached by the
    keyboard; empty: it cannot.
    """

    of: Callable[[str], str]
    said: Callable[[str], str]


NAMELESS = Names(lambda _: "", lambda _: "")
"""Nothing lights up."""


def still_svg(panel: Panel, title: str) -> str:
    """The panel as an ``svg`` element in which nothing lights up, one millimetre to a unit."""
    return _svg(panel, "img", title, _layers(panel, NAMELESS, ()))


def inline_svg(panel: Panel, title: str, names: Names, bars: Sequence[Bar] = ()) -> str:
    """The panel as an ``svg`` element whose things can be pointed at, one millimetre to a unit.

    Args:
        panel: measured items.
        title: what the picture is, for those who do not see it.
        names: for the items that light up with others.
        bars: contacts, drawn above lines and beneath lugs.
    """
    return _svg(panel, "group", title, _layers(panel, names, bars))


def _svg(panel: Panel, role: str, title: str, drawn: Iterable[str]) -> str:
    width, height = _number(panel.width), _number(panel.height)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="{role}" '
        f'viewBox="0 0 {width} {height}" width="{width}mm" height="{height}mm" '
        f'font-family="DejaVu Sans, Verdana, sans-serif" aria-label="{_quoted(title)}">'
    )
    return "".join((head, *drawn, "</svg>"))


def _layers(panel: Panel, names: Names, bars: Sequence[Bar]) -> Iterator[str]:
    """Backdrops, lines, contacts, then symbols with the texts that belong to them."""
    items = panel.items
    yield from (_picture(item) for item in items if isinstance(item, Picture))
    for symbol in (i for i in items if isinstance(i, Symbol) and i.backdrop):
        yield _symbol(symbol)
    for line in (i for i in items if isinstance(i, Line)):
        yield _named_line(line, names)
    yield from (_bar(bar) for bar in bars)
    upper = [i for i in items if isinstance(i, Symbol | Text) and not _is_backdrop(i)]
    for (shows, net), group in _grouped(upper).items():
        yield _group(shows, net, group, names)


def _is_backdrop(item: Item) -> bool:
    return isinstance(item, Symbol) and item.backdrop


def _picture(picture: Picture) -> str:
    box = picture.box
    data = base64.b64encode(picture.data).decode()
    return (
        f'<image x="{_number(box.left)}" y="{_number(box.top)}" width="{_number(box.width)}" '
        f'height="{_number(box.height)}" href="data:{picture.media};base64,{data}"/>'
    )


def _grouped(items: Iterable[Symbol | Text]) -> dict[tuple[str, str], list[Symbol | Text]]:
    groups: dict[tuple[str, str], list[Symbol | Text]] = {}
    for item in items:
        groups.setdefault((item.shows, item.net or ""), []).append(item)
    return groups


def _group(shows: str, net: str, items: Sequence[Symbol | Text], names: Names) -> str:
    drawn = [_symbol(item) for item in items if isinstance(item, Symbol)]
    drawn += [_text(item) for item in items if isinstance(item, Text)]
    name, said = names.of(shows), names.said(shows)
    if not name:
        return "".join(drawn)
    spoken = f' role="button" tabindex="-1" aria-label="{_quoted(said)}"' if said else ""
    kind = "thing" if said else "mark"
    opening = f'<g class="{kind}" data-name="{_quoted(name)}"{_net(net)}{spoken}>'
    return "".join((opening, *drawn, "</g>"))


def _net(net: str | None) -> str:
    return f' data-net="{_quoted(net)}"' if net else ""


def _named_line(line: Line, names: Names) -> str:
    drawn = _line(line.points, line.width, line.dash, line.grey)
    name = names.of(line.shows)
    if not name and not line.net:
        return drawn
    reach = _line(line.points, _REACH, "solid", 0.0, ' class="reach"') if name else ""
    called = f' data-name="{_quoted(name)}"' if name else ""
    return f'<g class="course"{called}{_net(line.net)}>{drawn}{reach}</g>'


def _line(points: Sequence[XY], width: float, dash: str, grey: float, more: str = "") -> str:
    dashes = _dashes(dash, width)
    return (
        f'<path d="{_course(points)}" fill="none" stroke="{_grey(grey)}" '
        f'stroke-width="{_number(width)}" stroke-linejoin="round"{dashes}{more}/>'
    )


def _bar(bar: Bar) -> str:
    told = "".join(f' {key}="{_quoted(value)}"' for key, value in bar.attributes.items())
    course = _course(bar.points)
    return f'<g class="bar"{told}><path class="edge" d="{course}"/><path d="{course}"/></g>'


def _symbol(symbol: Symbol) -> str:
    if symbol.kind in DEVICES:
        return "".join(_device(symbol))
    return "".join(_outlined(symbol))


def _outlined(symbol: Symbol) -> Iterator[str]:
    arrows = strokes(symbol.kind, symbol.box)
    if not arrows:
        yield _shape(outline(symbol.kind, symbol.box), symbol, symbol.fill)
    for inset in insets(symbol.kind, symbol.box):
        yield _shape(inset, symbol, None)
    for arrow in arrows:
        yield _line(arrow, symbol.width, symbol.dash, symbol.grey)


def _device(symbol: Symbol) -> Iterator[str]:
    device = DEVICES[symbol.kind]
    for shape in device.outlines:
        yield _shape(_placed(shape, symbol.box), symbol, symbol.fill)
    for shape in device.strokes:
        yield _line(_placed(shape, symbol.box), symbol.width, symbol.dash, symbol.grey)
    for shape in device.filled:
        yield _shape(_placed(shape, symbol.box), symbol, _grey(symbol.grey))


def _placed(shape: Shape, box: Box) -> tuple[XY, ...]:
    return tuple((box.left + x * box.width, box.top + y * box.height) for x, y in shape)


def _shape(points: Sequence[XY], symbol: Symbol, fill: str | None) -> str:
    edge = f'stroke="{_grey(symbol.grey)}" stroke-width="{_number(symbol.width)}"'
    if symbol.width == 0:
        edge = 'stroke="none"'
    dashes = _dashes(symbol.dash, symbol.width)
    return f'<path d="{_course(points)}Z" fill="{_quoted(fill or "none")}" {edge}{dashes}/>'


def _text(text: Text) -> str:
    weight = ' font-weight="bold"' if text.bold else ""
    grey = f' fill="{_grey(text.grey)}"' if text.grey else ""
    size = _number(text.points * MM_PER_POINT)
    return (
        f'<text x="{_number(text.x)}" y="{_number(text.y)}" font-size="{size}" '
        f'textLength="{_number(text.width)}" lengthAdjust="spacingAndGlyphs"{weight}{grey}>'
        f"{escape(text.text)}</text>"
    )


def _course(points: Sequence[XY]) -> str:
    return "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in points)


def _dashes(dash: str, width: float) -> str:
    lengths = " ".join(_number(float(n) * width) for n in _DASHES[dash].split())
    return f' stroke-dasharray="{lengths}"' if lengths else ""


def _number(value: float) -> str:
    """Hundredths of a millimetre are enough for the eye.

    >>> _number(12.0), _number(0.254), _number(-0.001)
    ('12', '0.25', '0')
    """
    said = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if said == "-0" else said


def _grey(level: float) -> str:
    shade = round(255 * level)
    return f"#{shade:02x}{shade:02x}{shade:02x}"


def _quoted(text: str) -> str:
    return escape(text, quote=True)
