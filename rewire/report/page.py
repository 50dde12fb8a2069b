"""The packet as one HTML file that turns its switches: style, script and spec are inside.

The policy in its head lets nothing be fetched, and nothing run but the script and the style
that are named there by their digests.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from html import unescape
from importlib.resources import files
from itertools import count
from pathlib import Path

import yaml
from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from rewire import __version__
from rewire.bench.work_list import DO_NOT_BUILD
from rewire.draw.leads import SHADES
from rewire.draw.paint import MARK
from rewire.draw.scene import Paper
from rewire.report.card import CARD
from rewire.report.contents import EVIDENCE, SECTIONS, built_otherwise, sections_of
from rewire.report.measured import Packed
from rewire.report.packet import Packet, Sources
from rewire.report.page_card import card_section, plan_cards
from rewire.report.page_desk import shown_wiring
from rewire.report.page_paths import wiring_data
from rewire.report.section import Cell, Illustration, ReportSection, Table, Words
from rewire.report.text import minus
from rewire.words.wording import printable

NARROW = 22
"""Characters that a column of a phone still holds."""
_STRIP = 31.5
"""As wide a piece of a drawing as a phone shows with its letters in full size, of their size."""
_SIZE = re.compile(r' font-size="([0-9.]+)"')
_TEXT = re.compile(r'<text x="([-0-9.]+)"[^>]*? textLength="([0-9.]+)"[^>]*>([^<]*)<')
_FIGURE = re.compile(r"$|[-0-9]")
_FEW = 4
"""Columns that a phone always has room for."""
_CLEAR = 1.0
"""Left of a text that begins a piece, mm."""
_LONGEST = 6000
_DESK = "lugs"
"""The section that turns here, and is a picture on paper."""


def page(
    packet: Packet, sources: Sources, *, paper: Paper = "a4",
    sections: Collection[str] | None = None,
) -> bytes:  # fmt: skip
    """The packet as one HTML file.

    Args:
        packet: what it says.
        sources: carried in it, for those who want to work on with them.
        paper: that pictures are laid out for.
        sections: keys of ``rewire.report.contents.SECTIONS``; None for those of the packet.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    entries = Packed()
    style, script = _asset("page.css"), _asset("page.js") + _asset("page_log.js")
    spec = packet.spec
    cards = plan_cards(packet)
    asked = {*SECTIONS} - EVIDENCE | {"table"} if sections is None else {*sections}
    laid_out = replace(packet, carded=CARD in asked)
    made = [*filter(_has_more, sections_of(laid_out, paper, asked - {CARD, _DESK}))]
    if CARD in asked:
        made += (card_section(packet, wiring, card, paper) for wiring, card in cards)
    turns = not asked.isdisjoint((CARD, _DESK))
    wirings = [shown_wiring(packet, wiring, paper) for wiring in packet.wirings] if turns else []
    text = _environment(entries).get_template("page.html").render(
        spec=spec, packet=packet, style=Markup(style), script=Markup(script),
        policy=_policy(style, script),
        data=lambda: _embedded({**_data(packet, sources), **entries.told()}),
        cards=[card for _, card in cards], warnings=list(_warnings(packet)),
        sections=list(_placed(made)), wirings=wirings,
        shades=SHADES, nothing=Cell(), narrow=NARROW, mark=MARK, version=__version__,
    )  # fmt: skip
    return text.lstrip().encode("utf-8", "replace")


def _has_more(section: ReportSection) -> bool:
    """Whether a section says more than that its table stands above."""
    return section.key != "table" or any(isinstance(block, Table) for block in section.blocks)


def _placed(made: Sequence[ReportSection]) -> Iterator[tuple[ReportSection, str]]:
    """Cautions, then the others in their order, each with an id."""
    order = ["cautions", *map(str, SECTIONS)]
    for number, section in enumerate(sorted(made, key=lambda one: order.index(one.key))):
        yield section, section.key if section.key == "cautions" else f"{section.key}-{number}"


def _warnings(packet: Packet) -> Iterator[str]:
    yield from (f"BROKEN: {m.target} {DO_NOT_BUILD}." for m in packet.moves if m.broken)
    if built_otherwise(packet.record):
        yield built_otherwise(packet.record)
    yield from (f"Not on this page: {limit}" for limit in packet.limits)


def _environment(entries: Packed) -> Environment:
    made = Environment(
        loader=FunctionLoader(_asset), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    drawings = count(1)
    made.filters.update(
        seen=seen, minus=minus, attribute=json.dumps, labels=_labels, strips=strips,
        number=entries.number, drawing=lambda picture: Markup(picture.svg),
        shared=lambda picture: _shared(picture, next(drawings)),
    )  # fmt: skip
    made.tests.update(words=_is(Words), table=_is(Table), picture=_is(Illustration))
    return made


def _is(kind: type) -> Callable[[object], bool]:
    return lambda block: isinstance(block, kind)


@dataclass(frozen=True, slots=True)
class Strips:
    """A drawing too wide for a phone, to be shown there in pieces, one under another."""

    width: float
    """Of a piece, mm."""
    lefts: tuple[float, ...]
    """Left edges of the pieces, mm: every text stands whole in one of them; none: not too wide."""
    told: tuple[str, ...]
    """Texts that are too long for that, to be told under them."""


def strips(picture: Illustration) -> Strips:
    """How a phone shows a drawing with its letters in full size."""
    strip = _STRIP * min(map(float, _SIZE.findall(picture.svg)), default=picture.width)
    if picture.width <= strip or "<image " in picture.svg:  # a scan is no text: it is shown whole
        return Strips(strip, (), ())
    texts = [(float(x), float(w), unescape(said)) for x, w, said in _TEXT.findall(picture.svg)]
    lefts = [0.0]
    for left, wide, _ in sorted(one for one in texts if one[1] < strip - _CLEAR):
        if left + wide > lefts[-1] + strip:
            lefts.append(left - _CLEAR)
    last = picture.width - strip
    lefts = [*lefts[:-1], last] if len(lefts) > 1 and lefts[-1] > last else lefts
    lefts = [0.0, last] if len(lefts) == 1 else lefts
    told = (said for _, wide, said in texts if wide >= strip - _CLEAR)
    return Strips(strip, tuple(lefts), tuple(told))


def _shared(picture: Illustration, number: int) -> tuple[str, Markup]:
    """A drawing whose inside has a name, so that it can be shown in pieces; and that name."""
    opening, inside = picture.svg.removesuffix("</svg>").split(">", 1)
    name = f"drawn-{number}"
    return name, Markup(f'{opening}><g id="{name}">{inside}</g></svg>')


def _asset(name: str) -> str:
    return files("rewire.report").joinpath(name).read_text("utf-8")


def _policy(style: str, script: str) -> str:
    return (
        f"default-src 'none'; script-src {_digest(script)}; style-src {_digest(style)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _embedded(data: object) -> Markup:
    """JSON that cannot end the element it stands in."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    for character in "<>&'\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return Markup(text)


def _labels(table: Table) -> tuple[str, ...]:
    """What stands before each cell where a row of a table is a card, on a phone.

    A table of many words has nothing before what comes first, up to the first column of many
    words; one to be filled in has it from what is filled in on. A bare figure says nothing
    without it. No labels: it stays a table there.
    """
    columns = [*zip(*table.rows, strict=True)]
    filled = [n for n, cells in enumerate(columns) if any(one.entry for one in cells)]
    if filled or len(table.head) > _FEW:
        first = filled[0] if filled else 1
    else:
        ticked = any(line[0].box for line in table.rows)
        wordy = [n for n, c in enumerate(columns) if max(len(one.text) for one in c) > NARROW]
        if not wordy or (len(wordy) == 1 and not ticked):
            return ()
        first = wordy[0] + (1 if ticked else 0)
    figures = [all(_FIGURE.match(one.text) for one in cells) for cells in columns]
    return tuple(head if n >= first or figures[n] else "" for n, head in enumerate(table.head))


def _data(packet: Packet, sources: Sources) -> dict[str, object]:
    """Controls, wirings and what the page was made from, ready to be written as JSON."""
    spec, log = packet.spec, sources.log
    first = next(iter(packet.plans), packet.wirings[0])
    return {
        "file": Path(spec.file).name,
        "source": sources.spec.decode("utf-8", "replace"),
        "log": None if log is None else log.decode("utf-8", "replace"),
        "measured": None if log is None else yaml.load(log, yaml.BaseLoader),  # texts, as written
        "digest": spec.digest,
        "controls": [
            {"name": control.name, "positions": control.positions, "wraps": control.wraps}
            for control in spec.controls.values()
        ],
        "never": [dict(item) for item in spec.never],
        "first": packet.wirings.index(first),
        "wirings": [wiring_data(packet, wiring) for wiring in packet.wirings],
    }


def seen(text: str, most: int = _LONGEST) -> str:
    r"""The text with characters that cannot be seen spelt out, and cut where it is endless.

    >>> seen("a\u202eb\tc")
    'a‹U+202E›b c'
    """
    shown = printable(re.sub(r"[\t\n\r]", " ", text[:most]))
    if len(text) <= most:
        return shown
    more = f" … ({len(text) - most} more characters in the spec)"
    return f"{shown}{'…' if most < _LONGEST else more}"
