"""The packet on paper: its sections, set by typst.

Nothing of a spec is markup there: the template is handed every text as a string.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import fields, is_dataclass
from importlib.resources import files
from pathlib import Path

import typst

from rewire.bench.work_list import DO_NOT_BUILD
from rewire.draw.leads import SHADES
from rewire.draw.paint import MARK, fonts, marked_pdf
from rewire.draw.scene import FONTS, Paper, visible
from rewire.draw.sheets import CODES
from rewire.reading.carried import LOG, SPEC
from rewire.records.spec import Spec
from rewire.report.card import CARD
from rewire.report.contents import built_otherwise, sections_of
from rewire.report.packet import Packet, Sources
from rewire.report.section import Illustration
from rewire.report.text import BEFORE_UNIT, minus

_LONGEST = 6000
"""Characters of one text that are printed; what is cut off is said."""


def pdf(
    packet: Packet, sources: Sources | None = None, *, paper: Paper = "a4",
    sections: Collection[str] | None = None,
) -> bytes:  # fmt: skip
    """The packet as PDF; the same packet gives the same bytes.

    Args:
        packet: what it says.
        sources: attached to it, for who gets the file and wants to change it.
        paper: its size.
        sections: keys of ``rewire.report.contents.SECTIONS``; None for all.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    spec, parts = packet.spec, list(sections_of(packet, paper, sections))
    carded = any(one.key == CARD for one in parts)
    broken = ", ".join(moves.target for moves in packet.moves if moves.broken)
    told = {
        "title": spec.title,
        "heading": not carded,
        "author": spec.document.author or "",
        "subject": spec.equipment or "",
        "lead": "" if carded else spec.summary or spec.equipment or "",
        "origin": ", ".join(_origin(spec, carded)),
        "codes": "" if carded else CODES,
        "broken": f"BROKEN: {broken} {DO_NOT_BUILD}." if broken else "",
        "limits": [
            *filter(None, [built_otherwise(packet.record)]),
            *(f"Not on this sheet: {limit}" for limit in packet.limits),
        ],
        "cards": [block for one in parts if one.key == CARD for block in one.blocks],
        "sections": [one for one in parts if one.key != CARD],
        "paper": paper,
        "mark": MARK,
        "shades": SHADES,
        "attached": list(_attached(packet.spec, sources)) if sources else [],
    }
    compiler = typst.Compiler(
        files("rewire.report").joinpath("packet.typ").read_bytes(), root=FONTS,
        font_paths=fonts(), ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(_plain(told))},
    )  # fmt: skip
    made = compiler.compile(format="pdf")
    assert isinstance(made, bytes)
    return marked_pdf(made)


def _attached(spec: Spec, sources: Sources) -> Iterator[Mapping[str, object]]:
    name = Path(spec.file).name if spec.file != "-" else "spec.yaml"
    yield {"name": visible(name), "said": SPEC, "data": [*sources.spec], "relation": "source"}
    if sources.log is not None:
        log = f"{Path(name).stem}-log.yaml"
        yield {"name": visible(log), "said": LOG, "data": [*sources.log], "relation": "data"}


def _origin(spec: Spec, carded: bool) -> Iterator[str]:
    """At the foot of each page, to know one of an older revision; the rest is on the card."""
    document = spec.document
    if document.revision:
        yield f"revision {document.revision}"
    if document.date and not carded:
        yield document.date
    if not (carded and document.revision):
        yield f"spec {spec.digest[:12]}"


def _plain(value: object) -> object:
    """Records as JSON, each with its kind; texts as they can be printed."""
    if isinstance(value, str):
        return _printed(value)
    if isinstance(value, Illustration):
        size = {"width": value.width, "height": value.height}
        return {"kind": "picture", "title": _printed(value.title), "svg": value.svg, **size}
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    if is_dataclass(value):
        told = {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
        return {"kind": type(value).__name__.lower(), **told}
    return sorted(value) if isinstance(value, frozenset) else value


def _printed(text: str) -> str:
    """A spec's text as it is printed: visible, and not endless."""
    shown = BEFORE_UNIT.sub("\u00a0", minus(visible(" ".join(text.split()))))
    if len(shown) <= _LONGEST:
        return shown
    return f"{shown[:_LONGEST]} … ({len(shown) - _LONGEST} more characters in the spec)"
