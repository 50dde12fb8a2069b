"""The painter: a scene as SVG, and that SVG as the page of a PDF or as a PNG.

Text stays text, in DejaVu Sans, as wide as it was measured also where the reader's machine lacks
that font. Nothing in the SVG is style by attribute or by address, so an HTML page may forbid both.
The same scene gives the same bytes: no dates, no random names.
"""

from __future__ import annotations

import base64
import json
import struct
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from html import escape

import typst

from rewire.draw.scene import FONTS, MM_PER_POINT, XY, Item, Line, ScanImage, Scene, Symbol, Text
from rewire.draw.symbols import shapes_of

MARK = "rewire-made"
"""Written into every file the program makes, so that it knows its own."""
_DASHES = {"solid": "", "dashed": "5 3", "dotted": "1.2 1.8", "dashdot": "6 2 1.2 2"}
"""In widths of the line."""
_HAIR = 0.15
"""What a PNG's page and the picture on it lack of a whole dot, in dots: the typesetter rounds
both up, and where they are not equal then it leaves out a row of dots."""
_REACH = 2.2
"""How wide a line is to the pointer, mm."""
_EDGE, _WHITE_EDGE = 0.15, 0.25
"""The dark edge on either side of a cased line, and of a white one, mm: part of its width."""
_GAP = 0.35
"""White on either side of a cased line where it passes over another, mm."""


@dataclass(frozen=True, slots=True)
class ContactBar:
    """A contact drawn between two lugs; ``attributes`` tell a script when it is closed."""

    points: tuple[XY, ...]
    attributes: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Names:
    """What a script calls the things of a picture."""

    of: Callable[[str], str]
    """An item's ``shows`` → its name, or several with blanks between; empty: never lit."""
    said: Callable[[str], str]
    """The same → what it is in words; empty: not reached by the keyboard."""
    bars: Sequence[ContactBar] = field(default=())
    """Contacts, drawn above lines and beneath lugs."""


_NAMELESS = Names(lambda _: "", lambda _: "")


def svg_of(scene: Scene, names: Names | None = None) -> str:
    """The scene as an ``svg`` element, one millimetre to a unit; a script lights what has names."""
    width, height = _number(scene.width), _number(scene.height)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" '
        f'role="{"group" if names else "img"}" viewBox="0 0 {width} {height}" '
        f'width="{width}mm" height="{height}mm" font-family="DejaVu Sans, Verdana, sans-serif" '
        f'aria-label="{escape(scene.title)}">'
    )
    return "".join((head, *_layers(scene.items, names or _NAMELESS), "</svg>"))


def paint_svg(scene: Scene) -> bytes:
    """The scene as a file of its own, on white."""
    opening, rest = svg_of(scene).split(">", 1)
    ground = f'<title>{escape(scene.title)}</title><rect width="100%" height="100%" fill="white"/>'
    return f'<?xml version="1.0"?>\n<!-- {MARK} -->\n{opening}>{ground}{rest}\n'.encode()


def paint_png(scene: Scene, dpi: int = 200) -> bytes:
    """The scene as PNG (W3C PNG, 11.3: the mark, the title and the dots per metre as chunks)."""
    dot = 25.4 / dpi
    wide, high = round(scene.width / dot), round(scene.height / dot)
    whole = replace(scene, width=wide * dot, height=(high - _HAIR) * dot)
    png = _typeset([whole], {"title": scene.title}, "png", dpi)
    head = 33  # signature and IHDR
    per_metre = round(dpi / 0.0254)
    return b"".join((
        png[:head],
        _chunk(b"tEXt", b"Software\0" + MARK.encode()),
        _chunk(b"iTXt", b"Title\0\0\0\0\0" + scene.title.encode()),
        _chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)),
        png[head:],
    ))  # fmt: skip


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def paint_pdf(
    scenes: Sequence[Scene], *, title: str = "", author: str | None = None, subject: str = ""
) -> bytes:
    """All scenes as the pages of one PDF."""
    known: dict[str, object] = {
        "title": title or (scenes[0].title if scenes else ""), "author": author or [],
        "description": subject or None, "keywords": MARK,
    }  # fmt: skip
    return marked_pdf(_typeset(scenes, known, "pdf"))


def marked_pdf(pdf: bytes) -> bytes:
    """The mark as a comment close to the end, where a long document's tables cannot push it out.

    It stands before the last ``startxref``, so no place that a table names is moved.
    """
    body, last, end = pdf.rpartition(b"startxref")
    return body + f"%{MARK}\n".encode() + last + end


_PAGES = b"""
#let book = json(bytes(sys.inputs.book))
#set document(..book.document, date: none)
#set text(lang: "en", font: "DejaVu Sans")
#set page(margin: 0pt)
#for sheet in book.sheets {
  page(
    width: sheet.width * 1mm,
    height: sheet.height * 1mm,
    image(
      bytes(sheet.svg), format: "svg", alt: sheet.alt,
      width: 100%, height: 100%, fit: "stretch",
    ),
  )
}
"""


def _typeset(
    scenes: Sequence[Scene], document: Mapping[str, object], form: typst.OutputFormat,
    dpi: float | None = None,
) -> bytes:  # fmt: skip
    less = _HAIR * 25.4 / dpi if dpi else 0.0
    sheets = [
        {"width": s.width - less, "height": s.height - less, "svg": svg_of(s), "alt": s.title}
        for s in scenes
    ]
    book = json.dumps({"document": document, "sheets": sheets})
    compiler = typst.Compiler(
        _PAGES, root=FONTS, font_paths=fonts(), ignore_system_fonts=True,
        sys_inputs={"book": book},
    )  # fmt: skip
    made = compiler.compile(format=form, ppi=dpi)
    assert isinstance(made, bytes)
    return made


@cache
def fonts() -> typst.Fonts:
    """The fonts to typeset with: no others, so that pages are the same on every machine."""
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONTS])


def _layers(items: Sequence[Item], names: Names) -> Iterator[str]:
    """Scans, backdrops, lines, contacts, then symbols with the texts that belong to them."""
    yield from (_picture(item) for item in items if isinstance(item, ScanImage))
    yield from (_symbol(i) for i in items if isinstance(i, Symbol) and i.backdrop)
    yield from (_named_line(item, names) for item in items if isinstance(item, Line))
    yield from (_bar(bar) for bar in names.bars)
    upper: dict[tuple[str, str], list[Symbol | Text]] = {}
    for item in items:
        if isinstance(item, Text) or (isinstance(item, Symbol) and not item.backdrop):
            upper.setdefault((item.shows, item.net or ""), []).append(item)
    for (shows, net), group in upper.items():
        yield _group(shows, net, group, names)


def _picture(picture: ScanImage) -> str:
    box = picture.box
    data = base64.b64encode(picture.data).decode()
    return (
        f'<image x="{_number(box.left)}" y="{_number(box.top)}" width="{_number(box.width)}" '
        f'height="{_number(box.height)}" href="data:{picture.media};base64,{data}"/>'
    )


def _group(shows: str, net: str, items: Iterable[Symbol | Text], names: Names) -> str:
    symbols = [_symbol(item) for item in items if isinstance(item, Symbol)]
    drawn = "".join((*symbols, *(_text(item) for item in items if isinstance(item, Text))))
    name, said = names.of(shows), names.said(shows)
    if not name:
        return drawn
    spoken = f' role="button" tabindex="-1" aria-label="{escape(said)}"' if said else ""
    kind = "thing" if said else "mark"
    return f'<g class="{kind}" data-name="{escape(name)}"{_net(net)}{spoken}>{drawn}</g>'


def _net(net: str | None) -> str:
    return f' data-net="{escape(net)}"' if net else ""


def _named_line(line: Line, names: Names) -> str:
    drawn = _cased(line) if line.cased else _path(line.points, line, line.fill)
    name = names.of(line.shows)
    if not name and not (line.net and names is not _NAMELESS):
        return drawn
    reach = (
        f'<path class="reach" d="{_course(line.points)}" fill="none" stroke="#000000" '
        f'stroke-width="{_REACH}" stroke-linejoin="round"/>'
    )
    called = f' data-name="{escape(name)}"' if name else ""
    return f'<g class="course"{called}{_net(line.net)}>{drawn}{reach if name else ""}</g>'


def _cased(line: Line) -> str:
    """White, edge and ink of one line, each upon the other along the same course."""
    ink = line.colour or _grey(line.grey)
    edge = _WHITE_EDGE if "#ffffff" in (ink, line.stripe) else _EDGE
    inside = replace(line, width=line.width - 2 * edge, colour=ink)
    strokes = [
        replace(line, width=line.width + 2 * _GAP, colour="#ffffff", dash="solid"),
        replace(line, colour=_grey(0.1), dash="solid"),
        inside,
    ]
    if line.stripe:
        strokes.append(replace(inside, colour=line.stripe, dash="dashed"))
    return f'<g class="cased">{"".join(_path(line.points, stroke) for stroke in strokes)}</g>'


def _bar(bar: ContactBar) -> str:
    told = "".join(f' {key}="{escape(value)}"' for key, value in bar.attributes.items())
    course = _course(bar.points)
    return f'<g class="bar"{told}><path class="edge" d="{course}"/><path d="{course}"/></g>'


def _symbol(symbol: Symbol) -> str:
    """The shapes of a symbol in a group that says what symbol it is."""
    fills = {"body": symbol.fill, "ink": _grey(symbol.grey)}
    shapes = (
        _path(points, symbol, fills.get(look), "" if look == "stroke" else "Z")
        for look, points in shapes_of(symbol.kind, symbol.box)
    )
    return f'<g data-kind="{escape(symbol.kind)}">{"".join(shapes)}</g>'


def _path(
    points: Sequence[XY], look: Line | Symbol, fill: str | None = None, closed: str = ""
) -> str:
    ink = look.colour if isinstance(look, Line) and look.colour else _grey(look.grey)
    edge = "none" if look.width == 0 else escape(ink)
    lengths = " ".join(_number(float(n) * look.width) for n in _DASHES[look.dash].split())
    dashes = f' stroke-dasharray="{lengths}"' if lengths else ""
    return (
        f'<path d="{_course(points)}{closed}" fill="{escape(fill or "none")}" stroke="{edge}" '
        f'stroke-width="{_number(look.width)}" stroke-linejoin="round"{dashes}/>'
    )


def _text(text: Text) -> str:
    weight = ' font-weight="bold"' if text.bold else ""
    grey = f' fill="{_grey(text.grey)}"' if text.grey else ""
    size = _number(text.points * MM_PER_POINT)
    around = _number(2 * text.x + text.width)
    turned = f' transform="matrix(-1 0 0 1 {around} 0)"' if text.mirrored else ""
    return (
        f'<text x="{_number(text.x)}" y="{_number(text.y)}" font-size="{size}"{turned} '
        f'textLength="{_number(text.width)}" lengthAdjust="spacingAndGlyphs"{weight}{grey}>'
        f"{escape(text.text)}</text>"
    )


def _course(points: Sequence[XY]) -> str:
    return "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in points)


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
