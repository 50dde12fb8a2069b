"""Scanned pages: notes clear of each other and pointing at their spots; hostile images refused."""

from __future__ import annotations

import dataclasses
import io
import os
import random
import struct
import zlib
from collections import Counter
from itertools import combinations
from pathlib import Path

import pytest
from PIL import Image, ImageDraw, PngImagePlugin
from pypdf import PdfReader

from rewire.draw.paint import paint_pdf, paint_png, paint_svg
from rewire.draw.scanned import scanned_view
from rewire.draw.scene import XY, Line, Paper, Scene, around
from rewire.reading.faults import SpecError
from rewire.reading.read import read_spec
from rewire.records.part import Place
from rewire.records.spec import Page, PageNote, Spec
from tests import scan_sketch
from tests.draw.audit import audit
from tests.draw.builders import meter, plain_switch, point, resistor, spec, wire, wiring

FLAGSHIP = Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml"
WRITTEN = Place("set.yaml", 12, 5)


def png(size: tuple[int, int], seed: int = 0, mode: str = "L") -> bytes:
    """A page with some strokes on it."""
    rng = random.Random(seed)
    image = Image.new("L", size, 235)
    ink = ImageDraw.Draw(image)
    for _ in range(12):
        ends = [rng.uniform(0, size[n % 2]) for n in range(4)]
        ink.line(ends, fill=40, width=3)
    return saved(image.convert(mode))


def saved(image: Image.Image, kind: str = "PNG", **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)  # type: ignore[arg-type]
    return out.getvalue()


def with_pages(folder: Path, *pages: Page) -> Spec:
    """A small spec in that folder: R1 becomes R2, R3 stays, R4 goes."""
    points = [point("CHASSIS"), point("LINE")]
    switch = plain_switch("S1", "DPDT")
    parts = [switch, meter(), resistor("R1"), resistor("R3", ("LINE", "CHASSIS")), resistor("R4")]
    old = wiring(parts, [wire("W1", "S1.A", "R1.1"), wire("W2", "R4.1", "S1.B")])
    heir = dataclasses.replace(resistor("R2"), replaces={"1": "R1.1", "2": "R1.2"})
    new = wiring([switch, meter(), heir, parts[3]], [wire("W1", "S1.B2", "R2.1")], name="other")
    made = spec([old, new], points)
    return dataclasses.replace(made, file=str(folder / "set.yaml"), pages=pages)


def page(image: str, *notes: PageNote, title: str | None = None) -> Page:
    return Page(image, title, notes, WRITTEN)


def view(folder: Path, data: bytes, *notes: PageNote, paper: Paper = "a4") -> tuple[Scene, ...]:
    (folder / "page.png").write_bytes(data)
    made = with_pages(folder, page("page.png", *notes))
    return scanned_view(made, made.others, paper)


# Notes ----------------------------------------------------------------------------------


def random_notes(rng: random.Random, count: int) -> list[PageNote]:
    """Anywhere, in a heap, or all on one spot; long words among the texts."""
    heap = (rng.random(), rng.random())
    spread = rng.choice((0.0, 0.02, 0.3, 1.0))
    notes = []
    for number in range(count):
        at = tuple(min(max(h + rng.uniform(-spread, spread), 0.0), 1.0) for h in heap)
        text = "x" * rng.choice((1, 40, 200)) + f" note {number}"
        about = rng.choice((None, "R1", "R3", "R4", "S1", "LINE", "M1"))
        notes.append(PageNote(at, about, text))  # type: ignore[arg-type]
    return notes


@pytest.mark.parametrize("seed", range(20))
def test_random_notes_are_legible_and_do_not_cross(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    size = rng.choice(((300, 400), (400, 300), (600, 60), (60, 600), (1, 1), (20, 13)))
    notes = random_notes(rng, rng.choice((0, 1, 5, 30, 90)))
    paper: Paper = "a4" if seed % 2 else "letter"
    scenes = view(tmp_path, png(size, seed), *notes, paper=paper)
    assert [trouble for scene in scenes for trouble in audit(scene)] == []
    seen = Counter(
        text.text for s in scenes for text in s.texts if text.shows.startswith("note:")
    )  # fmt: skip
    assert seen == Counter(str(n) for n in range(1, len(notes) + 1))
    for scene in scenes:
        check_leaders(scene, notes)


def check_leaders(scene: Scene, notes: list[PageNote]) -> None:
    """Each points at its spot, leaves from its balloon, and crosses no other."""
    if not scene.pictures:
        return
    (picture,) = scene.pictures
    balloons = {
        s.shows.removeprefix("note:"): s.box for s in scene.symbols if s.shows.startswith("note:")
    }  # fmt: skip
    lines: dict[str, Line] = {}
    for line in scene.lines:
        if line.shows.startswith("leader:") and line.grey == 0.0:
            lines[line.shows.removeprefix("leader:")] = line
    assert lines.keys() == balloons.keys()
    for number, line in lines.items():
        x, y = notes[int(number) - 1].at
        spot = picture.box.left + x * picture.box.width, picture.box.top + y * picture.box.height
        start, end = line.points
        assert away(spot, end) < 1.6, "it ends at the ring"
        assert balloons[number].grown(0.01).meets(around(start, 0.1, 0.1)), (
            "it leaves from the balloon"
        )
    for (one, first), (other, second) in combinations(lines.items(), 2):
        same_spot = notes[int(one) - 1].at == notes[int(other) - 1].at
        assert same_spot or not crossing(first.points, second.points), (one, other)


def away(a: XY, b: XY) -> float:
    return float(((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5)


def crossing(first: tuple[XY, ...], second: tuple[XY, ...]) -> bool:
    """Proper crossing of two segments, by the signs of four areas."""
    (a, b), (c, d) = first, second

    def side(p: XY, q: XY, r: XY) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < -1e-9 and side(c, d, a) * side(c, d, b) < -1e-9


def test_notes_say_what_becomes_of_a_part(tmp_path: Path) -> None:
    names = ("R1", "R3", "R4", "R2", "LINE", "S1")
    notes = [PageNote((0.5, 0.5), name, None) for name in names]
    scenes = view(tmp_path, png((300, 200)), *notes)
    told: dict[str, str] = {}
    for scene in scenes:
        for text in scene.texts:
            if text.shows.startswith("told:other:"):
                name = text.shows.removeprefix("told:other:")
                told[name] = f"{told.get(name, '')} {text.text}".strip()
    assert told["R1"] == "other: R1 15 Ω → R2 15 Ω R1.1 → R2.1: S1.A → S1.B2"
    assert told["R3"] == "other: stays as it is"
    assert told["R4"] == "other: goes"
    assert told["R2"] == "other: new: R2 15 Ω 1: S1.B2 2: nothing"
    assert told["LINE"] == "other: stays as it is"
    assert told["S1"] == (
        "other: S1.A: R1.1 → nothing S1.B: R4.1 → nothing S1.B2: nothing → R2.1"
    )  # fmt: skip


# Painting -------------------------------------------------------------------------------


def test_the_flagships_page_is_what_the_script_draws() -> None:
    """Pixels, not bytes: another zlib may pack them otherwise."""
    with Image.open(scan_sketch.PLACE) as kept:
        assert kept.convert("L").tobytes() == scan_sketch.sketch().convert("L").tobytes()
    assert scan_sketch.PLACE.stat().st_size < 100_000


def test_the_flagship_is_painted_with_its_page_and_every_word() -> None:
    made = read_spec(FLAGSHIP)
    scenes = scanned_view(made, made.others)
    assert [trouble for scene in scenes for trouble in audit(scene)] == []
    pdf = paint_pdf(scenes)
    assert pdf == paint_pdf(scenes)
    reader = PdfReader(io.BytesIO(pdf))
    assert len(reader.pages[0].images) == 1
    for scene, sheet in zip(scenes, reader.pages, strict=True):
        said = "".join(sheet.extract_text().split())
        assert all("".join(text.text.split()) in said for text in scene.texts)
    svg = paint_svg(scenes[0])
    assert svg == paint_svg(scenes[0])
    assert svg.count(b"data:image/png;base64,") == 1
    assert len(paint_png(scenes[0], 60)) > 10_000


def test_the_image_stands_where_its_box_is(tmp_path: Path) -> None:
    """A page black at its top left quarter: so is the paper there, in every pixel's corner."""
    image = Image.new("L", (200, 100), 255)
    image.paste(0, (0, 0, 100, 50))
    (scene,) = view(tmp_path, saved(image))[:1]
    (picture,) = scene.pictures
    with Image.open(io.BytesIO(paint_png(scene, 100))) as painted:
        grey = painted.convert("L")
        for x, y, dark in ((0.25, 0.25, True), (0.75, 0.25, False), (0.25, 0.75, False)):
            mm = picture.box.left + x * picture.box.width, picture.box.top + y * picture.box.height
            level = grey.getpixel(tuple(round(v / 25.4 * 100) for v in mm))
            assert (level < 60) == dark


def test_orientation_is_respected_and_nothing_else_is_kept(tmp_path: Path) -> None:
    """EXIF 2.3, orientation 6: the camera was turned, the image is to be turned right round."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "a secret camera"
    image = Image.new("RGB", (200, 100), "white")
    image.paste((0, 0, 0), (0, 0, 100, 100))
    (scene,) = view(tmp_path, saved(image, "JPEG", exif=exif))[:1]
    (picture,) = scene.pictures
    assert picture.box.height == pytest.approx(2 * picture.box.width)
    with Image.open(io.BytesIO(picture.data)) as upright:
        assert upright.getpixel((upright.width // 2, upright.height // 4)) < (60, 60, 60)
        assert not upright.getexif()
    assert b"secret" not in picture.data + paint_pdf([scene]) + paint_svg(scene)


def test_text_in_a_png_is_not_kept(tmp_path: Path) -> None:
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", "somebody at home")
    (scene,) = view(tmp_path, saved(Image.new("L", (90, 60), 200), pnginfo=info))[:1]
    assert b"somebody" not in scene.pictures[0].data


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"])
def test_every_kind_of_png(mode: str, tmp_path: Path) -> None:
    """Light paper stays light, whatever way the file tells it."""
    image = Image.new("L", (120, 80), 255)
    if mode == "I;16":
        data = saved(Image.new("I", (120, 80), 65_535).convert(mode))
    else:
        data = saved(image.convert("RGB").convert(mode) if mode == "P" else image.convert(mode))
    (scene,) = view(tmp_path, data)[:1]
    with Image.open(io.BytesIO(scene.pictures[0].data)) as shown:
        assert shown.convert("L").getextrema()[0] >= 250


def test_a_large_scan_is_made_as_fine_as_paper_needs(tmp_path: Path) -> None:
    (scene,) = view(tmp_path, saved(Image.new("L", (7000, 5000), 220)))[:1]
    with Image.open(io.BytesIO(scene.pictures[0].data)) as shown:
        assert max(shown.size) <= 300 / 25.4 * 297


# What is refused ------------------------------------------------------------------------


def refusal(made: Spec) -> str:
    with pytest.raises(SpecError) as raised:
        scanned_view(made, made.others)
    (fault,) = raised.value.faults
    assert fault.place == WRITTEN
    assert fault.hint
    return fault.message


def chunk(name: bytes, data: bytes) -> bytes:
    """PNG specification (ISO/IEC 15948), 5.3: length, type, data, checksum."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def claiming(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header claims any size."""
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0"))


def moving() -> bytes:
    frames = [Image.new("L", (40, 30), level) for level in (0, 128, 255)]
    return saved(frames[0], save_all=True, append_images=frames[1:], duration=100)


GOOD = png((200, 150))
HOSTILE = {
    "empty": (b"", "empty"),
    "text": (b"not an image at all", "neither PNG nor JPEG"),
    "svg": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "neither PNG nor JPEG"),
    "gif": (saved(Image.new("L", (9, 9)), "GIF"), "neither PNG nor JPEG"),
    "tiff": (saved(Image.new("L", (9, 9)), "TIFF"), "neither PNG nor JPEG"),
    "cut off": (GOOD[: len(GOOD) // 2], "broken"),
    "cut off JPEG": (saved(Image.new("RGB", (300, 300)), "JPEG")[:500], "broken"),
    "header only": (GOOD[:33], "neither PNG nor JPEG"),
    "signature only": (GOOD[:8], "neither PNG nor JPEG"),
    "claims 4 thousand million pixels": (claiming(65_000, 65_000), "million pixels"),
    "claims the most a PNG can": (claiming(2**31 - 1, 2**31 - 1), "million pixels"),
    "one pixel too many": (claiming(10_000, 5_001), "more than 50 million pixels"),
    "a strip": (claiming(20_000, 100), "a strip"),
    "a side too long": (claiming(20_001, 2_000), "a side of more than 20000"),
    "no size": (claiming(0, 0), ""),
    "moves": (moving(), "it moves"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_images_are_refused_in_words(name: str, tmp_path: Path) -> None:
    data, said = HOSTILE[name]
    (tmp_path / "page.png").write_bytes(data)
    message = refusal(with_pages(tmp_path, page("page.png")))
    assert message.startswith("image 'page.png': ")
    assert said in message


@pytest.mark.parametrize("seed", range(40))
def test_a_file_spoilt_anywhere_is_drawn_or_refused(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    kind = rng.choice(("PNG", "JPEG"))
    data = bytearray(saved(Image.new("RGB", (60, 40), "gray"), kind))
    for _ in range(rng.choice((1, 3, 20))):
        data[rng.randrange(len(data))] = rng.randrange(256)
    del data[rng.choice((len(data), rng.randrange(len(data)))) :]
    (tmp_path / "page.png").write_bytes(bytes(data))
    made = with_pages(tmp_path, page("page.png"))
    found: object = None
    try:
        found = scanned_view(made, made.others)[0].pictures[0].box.width > 0
    except SpecError as error:
        found = len(error.faults) == 1 and error.faults[0].message.isprintable()
    assert found is True


@pytest.mark.parametrize(
    "written",
    ["../page.png", "/etc/hostname", "a/../../page.png", "..", ".", "", " ", "a\\b.png",
     "C:/page.png", "http://example.org/page.png", "no-such.png", "below", "page.png/x",
     "x" * 5000, "nul\0byte.png", "~/page.png", "link-out.png", "below/link-up/page.png",
     "circle.png", "pipe.png"],
)  # fmt: skip
def test_places_outside_or_nowhere_are_refused(written: str, tmp_path: Path) -> None:
    folder = tmp_path / "set"
    (folder / "below").mkdir(parents=True)
    (tmp_path / "page.png").write_bytes(GOOD)
    (folder / "page.png").write_bytes(GOOD)
    (folder / "link-out.png").symlink_to(tmp_path / "page.png")
    (folder / "below" / "link-up").symlink_to(tmp_path)
    (folder / "circle.png").symlink_to(folder / "circle.png")
    os.mkfifo(folder / "pipe.png")
    message = refusal(with_pages(folder, page(written)))
    assert message.startswith("image ")
    assert message.isprintable()


def test_places_beside_and_below_and_links_inside_are_read(tmp_path: Path) -> None:
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "page one.png").write_bytes(GOOD)
    (tmp_path / "link.png").symlink_to(tmp_path / "below" / "page one.png")
    made = with_pages(tmp_path, page("below/page one.png"), page("link.png"))
    assert [len(scene.pictures) for scene in scanned_view(made, made.others)] == [1, 1]


def test_a_spec_behind_a_link_reads_from_where_it_is_named(tmp_path: Path) -> None:
    real = tmp_path / "real"
    real.mkdir()
    (real / "page.png").write_bytes(GOOD)
    (tmp_path / "name").symlink_to(real)
    made = with_pages(tmp_path / "name", page("page.png"))
    assert len(scanned_view(made, made.others)[0].pictures) == 1


def test_all_that_is_wrong_is_said_at_once(tmp_path: Path) -> None:
    made = with_pages(tmp_path, page("a.png"), page("b.png"), page("../c.png"))
    with pytest.raises(SpecError) as raised:
        scanned_view(made, made.others)
    assert len(raised.value.faults) == 3


def test_a_spec_without_pages_has_no_sheets(tmp_path: Path) -> None:
    made = with_pages(tmp_path)
    assert scanned_view(made, made.others) == ()
