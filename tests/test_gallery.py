"""The committed gallery is what the code draws now.

Everything is drawn again, down to the scenes, and compared by digest with what was committed.
Painting is the slow half: a sample that has every symbol and every kind of line and text on it
is painted again too, and compared byte for byte (PNG pixel by pixel, for the packing may differ).
"""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from functools import cache
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageChops

from rewire.draw.scene import Line, Scene, Symbol, Text
from tests.gallery import FLAGSHIP, GALLERY, MANIFEST, ROOT, File, files_of, published, specs

HOW = "run `python -m tests.gallery`, look at what changed, and commit gallery/"


@cache
def manifest() -> dict[str, dict[str, str]]:
    return json.loads((GALLERY / MANIFEST).read_text("utf-8"))["files"]  # type: ignore[no-any-return]


@cache
def drawn(path: Path) -> tuple[File, ...]:
    return tuple(files_of(path))


def stems() -> list[str]:
    return [path.stem for path in specs()]


def flagship() -> tuple[File, ...]:
    return drawn(ROOT / "specs" / f"{FLAGSHIP}.yaml")


def test_every_file_is_listed_and_is_the_one_that_was_written() -> None:
    there = {place.name for place in GALLERY.iterdir()} - {MANIFEST}
    assert there == set(manifest()), f"gallery/ and its {MANIFEST} do not agree: {HOW}"
    for name in sorted(there):
        digest = hashlib.sha256((GALLERY / name).read_bytes()).hexdigest()
        assert digest == manifest()[name]["bytes"], f"gallery/{name} was changed by hand: {HOW}"


def test_every_spec_has_its_files_and_nothing_else_is_there() -> None:
    of_specs = {name for name in manifest() if any(name.startswith(f"{s}-") for s in stems())}
    of_specs |= {published().name}
    assert of_specs == set(manifest()), f"files of specs that are gone: {HOW}"


def test_the_page_of_published_figures_is_what_the_records_give() -> None:
    file = published()
    assert (GALLERY / file.name).read_bytes() == file.paint(), f"gallery/{file.name}: {HOW}"
    assert manifest()[file.name]["scenes"] == file.digest, f"gallery/{MANIFEST}: {HOW}"


@pytest.mark.parametrize("stem", stems())
def test_what_is_committed_is_what_the_code_draws(stem: str) -> None:
    known = {
        n: digests["scenes"] for n, digests in manifest().items()
        if n in {f"{stem}-sheet.pdf", f"{stem}-pictures.pdf"} or n.startswith(f"{stem}-")
    }  # fmt: skip
    now = {file.name: file.digest for file in drawn(ROOT / "specs" / f"{stem}.yaml")}
    stale = sorted(n for n in known.keys() | now.keys() if known.get(n) != now.get(n))
    assert stale == [], f"not what the code draws now: {', '.join(stale)}; {HOW}"


def features(scene: Scene) -> set[object]:
    """What a painter has to know for this scene."""
    found: set[object] = set()
    for item in scene.items:
        if isinstance(item, Symbol):
            found.add(("symbol", item.kind, item.dash, item.backdrop, item.fill is None))
        elif isinstance(item, Line):
            found.add(("line", item.dash))
        elif isinstance(item, Text):
            found.add(("text", item.bold))
    return found


def sample(ending: str) -> list[File]:
    """Few files of the flagship that have between them all that any of them has."""
    files = [file for file in flagship() if file.name.endswith(ending)]
    missing = set().union(*(features(file.scenes[0]) for file in files))
    chosen = []
    while missing:
        best = max(files, key=lambda file: len(features(file.scenes[0]) & missing))
        missing -= features(best.scenes[0])
        chosen.append(best)
    return chosen


def test_a_sample_painted_again_is_the_same_svg_byte_for_byte() -> None:
    for file in sample(".svg"):
        same = file.paint() == (GALLERY / file.name).read_bytes()
        assert same, f"gallery/{file.name} is painted otherwise now: {HOW}"


def test_a_picture_painted_again_is_the_same_png_pixel_by_pixel() -> None:
    file = max(sample(".png"), key=lambda file: len(features(file.scenes[0])))
    with Image.open(GALLERY / file.name) as old, Image.open(BytesIO(file.paint())) as new:
        assert old.size == new.size
        differing = ImageChops.difference(old.convert("RGB"), new.convert("RGB")).getbbox()
    assert differing is None, f"gallery/{file.name} is painted otherwise now: {HOW}"


def unpacked(pdf: bytes) -> list[bytes]:
    """What the streams of a PDF hold: another version of zlib packs them otherwise."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    return [_opened(stream) for stream in streams]


def _opened(stream: bytes) -> bytes:
    if stream[:1] != b"x":  # a stream as zlib packs it begins so (RFC 1950, 2.2)
        return stream
    return zlib.decompress(stream)


def test_the_smallest_pdf_painted_again_is_the_same() -> None:
    file = min(
        (f for path in specs() for f in drawn(path) if f.name.endswith(".pdf")),
        key=lambda file: sum(len(scene.items) for scene in file.scenes),
    )
    old, new = (GALLERY / file.name).read_bytes(), file.paint()
    same = old == new or unpacked(old) == unpacked(new)
    assert same, f"gallery/{file.name} is painted otherwise now: {HOW}"


def test_a_scene_moved_by_a_hair_is_seen() -> None:
    file = next(f for f in flagship() if f.name.endswith(".svg"))
    scene = file.scenes[0]
    moved = Scene(
        scene.width, scene.height, tuple(i.moved(0.001, 0.0) for i in scene.items), scene.title
    )
    assert File("x", (moved,), file.paint).digest != file.digest
