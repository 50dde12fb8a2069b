"""What the gallery shows is drawn anew and can be read: audited by rules, not held to old bytes.

The PDFs hold every picture and the whole sheet of every shipped spec. The files in gallery/ need
only be there and be of today's specs; how they look is for eyes.
"""

from __future__ import annotations

import struct
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest

from rewire.draw.scene import Scene
from rewire.reading import read_spec
from rewire.records.switches import Switch
from tests.draw.audit import audit
from tests.draw.card_figures import figures_of
from tests.gallery import (
    FLAGSHIP,
    GALLERY,
    ROOT,
    File,
    card_figures,
    card_of,
    files_of,
    published,
    specs,
)  # fmt: skip

SHEETS = {(210.0, 297.0), (297.0, 210.0), (420.0, 297.0), (297.0, 420.0)}
"""A4 and A3 of ISO 216, mm, upright and lying."""


@cache
def drawn(path: Path) -> tuple[File, ...]:
    return tuple(files_of(path))


def scenes(path: Path, ending: str) -> list[Scene]:
    return [s for f in drawn(path) if f.name.endswith(ending) for s in f.scenes]


def flagship() -> tuple[File, ...]:
    return drawn(ROOT / "specs" / f"{FLAGSHIP}.yaml")


def test_every_spec_has_its_files_and_nothing_else_is_there() -> None:
    pages = {published().name, "card-figures.md"}
    expected = {*pages, *(f.name for path in specs() for f in drawn(path))}
    assert {place.name for place in GALLERY.iterdir()} == expected, "run `make gallery`"


def test_the_page_of_published_figures_is_what_the_records_give() -> None:
    file = published()
    assert (GALLERY / file.name).read_bytes() == file.paint(), "run `make gallery`"


def test_the_page_about_the_cards_is_what_the_cards_give() -> None:
    file = card_figures()
    assert (GALLERY / file.name).read_bytes() == file.paint(), "run `make gallery`"


def test_cards_are_drawn_as_a_draughtsman_would() -> None:
    """Few crossings, 8 points at least, one page (common practice, no source)."""
    cards = {path.stem: card_of(path) for path in specs()}
    figures = {name: figures_of(pages[0]) for name, pages in cards.items()}
    assert figures[FLAGSHIP].crossings <= 3
    assert min(one.smallest for one in figures.values()) >= 8.0
    assert all(len(pages) == 1 for pages in cards.values())


@pytest.mark.parametrize("path", specs(), ids=lambda path: path.stem)
def test_nothing_overlaps_runs_out_of_the_paper_or_is_too_small(path: Path) -> None:
    """The pages of the packet are held to the same in tests/sheet, plates of dials in test_dial,
    by the ink of their figures: upright beside a slanting mark, a figure's box says too much."""
    every = scenes(path, "-pictures.pdf")
    pages = [scene for scene in every if not scene.title.startswith("A new plate")]
    assert len(pages) > 2
    for scene in pages:
        assert audit(scene) == [], scene.title
        assert (scene.width, scene.height) in SHEETS


def test_side_by_side_of_many_decks_only_those_with_a_fault_are_drawn() -> None:
    every = scenes(ROOT / "specs" / "bandswitch.yaml", "-pictures.pdf")
    (scene,) = (scene for scene in every if scene.title.endswith("side by side"))
    shown = [s.shows for s in scene.symbols if s.shows.startswith("lug:S1.")]
    poles = {name.removeprefix("lug:S1.")[0] for name in shown}
    assert poles == set("CDEF"), "the oscillator's deck is wired wrongly; what hangs at HT is at C"


@pytest.mark.parametrize("path", specs(), ids=lambda path: path.stem)
def test_every_wire_on_a_switch_is_in_a_picture(path: Path) -> None:
    spec = read_spec(path)
    shown = {item.shows for scene in scenes(path, "-pictures.pdf") for item in scene.items}
    for wiring in spec.told:
        switches = [p.name for p in wiring.parts.values() if isinstance(p, Switch)]
        for wire in wiring.wires:
            if any(end.partition(".")[0] in switches for end in wire.ends):
                assert {f"wire:{wire.id}", f"jumper:{wire.id}"} & shown, wire


def test_each_picture_of_the_flagship_is_painted_in_its_size() -> None:
    for file in flagship():
        scene = file.scenes[0] if file.scenes else None
        if scene is None or not file.name.endswith(".svg"):
            continue
        box = ElementTree.fromstring(file.paint()).get("viewBox", "").split()
        assert float(box[2]) / float(box[3]) == pytest.approx(scene.width / scene.height, rel=0.01)


def test_a_picture_as_png_has_the_shape_of_its_scene() -> None:
    file = next(file for file in flagship() if file.name.endswith(".png"))
    # width and height stand in the first chunk of a PNG (ISO/IEC 15948, 11.2.2)
    width, height = struct.unpack(">II", file.paint()[16:24])
    scene = file.scenes[0]
    assert width / height == pytest.approx(scene.width / scene.height, rel=0.01)
