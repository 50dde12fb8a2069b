"""The page put together: one HTML file with its style, its script and its spec inside.

The policy in its head lets nothing be fetched, and nothing run but the script and the style
that are named there by their digests.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from rewire import __version__
from rewire.bench.safety import cautions_of
from rewire.bench.wire_plan import wire_plan
from rewire.bench.work_list import DO_NOT_BUILD
from rewire.circuit.states import LimitReached
from rewire.compare.telling import tellings
from rewire.draw.labels import SHADES
from rewire.draw.marked import marked_panels
from rewire.draw.paint import MARK
from rewire.draw.scanned import scanned_panels
from rewire.draw.scene import Paper
from rewire.records.spec import Spec, Wiring
from rewire.report.packet import Packet
from rewire.report.page.carried import Data
from rewire.report.page.dials import Dial, dials_of
from rewire.report.page.findings import verdict_of
from rewire.report.page.live import controls_data, never_data, wiring_data
from rewire.report.page.pictures import (
    Circuit,
    LugView,
    Picture,
    circuit_pictures,
    lug_views,
    still_pictures,
)
from rewire.report.page.rows import NARROW, Chapter, chapters_of
from rewire.report.page.texts import seen, shortened
from rewire.report.pdf import SECTIONS
from rewire.report.picturing import PICTURED
from rewire.report.section import Cell
from rewire.report.verdicts import built_otherwise
from rewire.values.assemble import Worked, work_out


@dataclass(frozen=True, slots=True)
class Shown:
    """One wiring on the page."""

    name: str
    number: int
    verdict: str
    computed: bool
    dials: tuple[Dial, ...]
    lugs: tuple[LugView, ...]
    circuits: tuple[Circuit, ...]


def page(
    packet: Packet, source: bytes, *, paper: Paper = "a4", sections: Collection[str] | None = None
) -> bytes:
    """The sheet as one HTML file.

    Args:
        packet: what it says.
        source: the bytes of the spec, for those who want to work on with it.
        paper: that pictures are laid out for.
        sections: keys of ``rewire.report.SECTIONS``; None for all.

    Raises:
        SpecError: a scanned page that cannot be used.
    """
    style, script = _asset("page.css"), _asset("page.js")
    spec, asked = packet.spec, SECTIONS if sections is None else sections
    worked = {w.name: found for w in packet.wirings for found in _worked(spec, w)}
    text = _environment().get_template("page.html").render(
        spec=spec,
        packet=packet,
        policy=_policy(style, script),
        style=Markup(style),
        script=Markup(script),
        data=_embedded(_data(packet, worked, source)),
        verdicts=[verdict_of(spec, telling) for telling in tellings(packet.results)],
        built_otherwise=built_otherwise(packet.record),
        cautions=cautions_of(spec),
        broken=[moves.target for moves in packet.moves if moves.broken],
        do_not_build=DO_NOT_BUILD,
        wirings=[_shown(packet, w, n, paper) for n, w in enumerate(packet.wirings)],
        chapters=_in_order([*chapters_of(packet), *_pictured(packet, paper)], asked),
        asked=asked,
        shades=SHADES,
        nothing=Cell(),
        narrow=NARROW,
        mark=MARK,
        version=__version__,
    )  # fmt: skip
    return text.encode("utf-8", "replace")


def _in_order(chapters: Iterable[Chapter], asked: Collection[str]) -> list[Chapter]:
    order: list[str] = list(SECTIONS)
    return sorted((c for c in chapters if c.key in asked), key=lambda c: order.index(c.key))


def _pictured(packet: Packet, paper: Paper) -> Iterator[Chapter]:
    """Sections of pictures that no switch turns."""
    plans = [w for w in packet.plans if w.name != "original"]
    marked = (
        picture
        for wiring in plans
        for picture in still_pictures(
            f"original to {wiring.name}",
            marked_panels(
                packet.spec,
                wiring,
                wire_plan(packet.spec, "original", wiring.name),
                paper,
                values=packet.values.get(wiring.name),
            ),
        )
    )
    scanned = still_pictures(
        "The maker's page", scanned_panels(packet.spec, plans, paper, values=packet.values)
    )
    for key, pictures in (("marked", marked), ("pages", scanned)):
        drawn = tuple(pictures)
        if drawn:
            yield Chapter(key, key, PICTURED[key][0], drawn, -1)


def _environment() -> Environment:
    made = Environment(
        loader=FunctionLoader(_asset), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.filters["seen"] = seen
    made.filters["shortened"] = shortened
    made.filters["attribute"] = _attribute
    made.filters["drawing"] = _drawing
    return made


def _drawing(picture: Picture) -> Markup:
    return Markup(picture.svg)


def _asset(name: str) -> str:
    return files("rewire.report.page").joinpath(name).read_text("utf-8")


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


def _attribute(data: object) -> str:
    """JSON as plain text, which is escaped like any other where it is set."""
    return json.dumps(data, separators=(",", ":"))


def _data(packet: Packet, worked: Mapping[str, Worked], source: bytes) -> Data:
    spec = packet.spec
    return {
        "digest": spec.digest,
        "file": Path(spec.file).name,
        "source": source.decode("utf-8", "replace"),
        "controls": controls_data(spec),
        "never": never_data(spec),
        "first": packet.wirings.index(next(iter(packet.plans), packet.wirings[0])),
        "wirings": [wiring_data(spec, w, worked.get(w.name)) for w in packet.wirings],
    }


def _worked(spec: Spec, wiring: Wiring) -> Iterator[Worked]:
    """Where a limit was reached the packet says so, and the page shows contacts alone."""
    with suppress(LimitReached):
        yield work_out(spec, wiring)


def _shown(packet: Packet, wiring: Wiring, number: int, paper: Paper) -> Shown:
    verdicts = {result.wiring: result.verdict for result in packet.results}
    values, networks = packet.values.get(wiring.name), packet.networks.get(wiring.name, ())
    return Shown(
        wiring.name,
        number,
        verdicts.get(wiring.name, ""),
        values is not None,
        tuple(dials_of(packet.spec, wiring, values)) if values is not None else (),
        tuple(lug_views(packet.spec, wiring, paper)),
        tuple(circuit_pictures(packet.spec, wiring, networks, paper)),
    )
