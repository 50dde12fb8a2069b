"""Draw gallery/ anew: what README and reviewers look at. ``make gallery`` runs it.

For each shipped spec its sheet and all its pictures as PDF; of the flagship each picture as SVG
and PNG too. ``drawn.json`` holds, file by file, a digest of what the code drew (the scenes) and of
the bytes that were written; by these the tests see what is no longer what the code draws.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import sys
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import matplotlib
import schemdraw

from rewire.cli.files import is_ours, write_whole
from rewire.cli.pictures import VIEWS, Picture, Wish, file_stems, on_sheets, pictures
from rewire.compare import compare
from rewire.draw import paint_pdf, paint_png, paint_svg
from rewire.draw.foot import alone, footed
from rewire.draw.scene import Scene
from rewire.sheet import packet_of, sheet_scenes
from rewire.sheet.page import page
from rewire.spec import read_spec
from rewire.spec.model import Spec
from tests.published.page import PAGE, published_page

ROOT = Path(__file__).parents[1]
GALLERY = ROOT / "gallery"
MANIFEST = "drawn.json"
FLAGSHIP = "valve-amplifier"
_DPI = 110
Entries = dict[str, dict[str, str]]
"""Name of a file → digests of its scenes and of its bytes."""


@dataclass(frozen=True)
class File:
    """A file of the gallery: what is on it, and what paints it when that is asked for."""

    name: str
    scenes: tuple[Scene, ...]
    paint: Callable[[], bytes]
    text: bytes = b""
    """Of a file that is text from the start."""

    @property
    def digest(self) -> str:
        """Of everything on its sheets, to a ten-thousandth of a millimetre."""
        told = json.dumps([_plain(s) for s in self.scenes]).encode() + self.text
        return hashlib.sha256(told).hexdigest()


def _plain(value: object) -> object:
    """A scene as plain lists; lengths rounded, so that the last bit of a sum does not count."""
    if isinstance(value, float):
        return round(value, 4) + 0.0
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if dataclasses.is_dataclass(value):
        fields = [_plain(getattr(value, f.name)) for f in dataclasses.fields(value)]
        return [type(value).__name__, *fields]
    return value


def files_of(path: Path) -> Iterator[File]:
    """Everything in the gallery that comes from one spec."""
    spec = read_spec(path)
    yield _pdf(f"{path.stem}-sheet.pdf", spec, sheet_scenes(packet_of(spec, compare(spec))))
    drawn = pictures(Wish(spec), tuple(VIEWS)).pictures
    sheets = on_sheets(drawn, "a4")
    scenes = footed([scene for scene, _ in sheets], spec, [broken for _, broken in sheets])
    yield _pdf(f"{path.stem}-pictures.pdf", spec, scenes)
    if path.stem == FLAGSHIP:
        yield from _one_by_one(spec, path.stem, drawn)
        text = page(packet_of(spec, compare(spec)), path.read_bytes())
        yield File(f"{path.stem}-page.html", (), lambda: text, text)


def _pdf(name: str, spec: Spec, scenes: tuple[Scene, ...]) -> File:
    return File(name, scenes, lambda: paint_pdf(scenes, title=spec.title))


def _one_by_one(spec: Spec, stem: str, drawn: Sequence[Picture]) -> Iterator[File]:
    for name, picture in zip(file_stems(stem, drawn), drawn, strict=True):
        for number, sheet in enumerate(picture.scenes, 1):
            scene = alone(sheet, spec, picture.broken)
            part = f"-part{number}" if len(picture.scenes) > 1 else ""
            yield _svg(f"{name}{part}.svg", scene)
            yield _png(f"{name}{part}.png", scene)


def _svg(name: str, scene: Scene) -> File:
    return File(name, (scene,), lambda: paint_svg(scene))


def _png(name: str, scene: Scene) -> File:
    return File(name, (scene,), lambda: paint_png(scene, dpi=_DPI))


def specs() -> list[Path]:
    """All shipped specs."""
    return sorted((ROOT / "specs").glob("*.yaml"))


def painter() -> str:
    """A digest of what turns scenes into files: where it changed, everything is painted again."""
    sources = ("paint", "elements", "outlines", "pdf_language", "scene", "inline")
    files = [ROOT / "rewire" / "draw" / f"{name}.py" for name in sources]
    told = [
        *(file.read_text("utf-8") for file in files if file.exists()),
        Path(__file__).read_text(),
    ]
    told += [matplotlib.__version__, schemdraw.__version__, zlib.ZLIB_RUNTIME_VERSION]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()


def known() -> Entries:
    """What drawn.json says of files that the painter of today made."""
    place = GALLERY / MANIFEST
    told = json.loads(place.read_text("utf-8")) if place.exists() else {}
    return told.get("files", {}) if told.get("painter") == painter() else {}


def published() -> File:
    """The page of checks against published figures."""
    text = published_page().encode()
    return File(PAGE.name, (), lambda: text, text)


def drawn_anew(path: Path) -> Entries:
    """Write what comes from one spec."""
    return written(files_of(path))


def written(files: Iterable[File]) -> Entries:
    """Write files; one whose scenes are as they were stays."""
    before = known()
    entries: Entries = {}
    for file in files:
        place = GALLERY / file.name
        kept = before.get(file.name, {}).get("scenes") == file.digest and place.exists()
        if not kept:
            write_whole(place, file.paint(), force=False)
            sys.stdout.write(f"gallery/{file.name}\n")
        digest = hashlib.sha256(place.read_bytes()).hexdigest()
        entries[file.name] = {"scenes": file.digest, "bytes": digest}
    return entries


def main() -> None:
    """Write all files, name each that is new, and remove what is drawn no longer."""
    GALLERY.mkdir(exist_ok=True)
    entries = written([published()])
    with ProcessPoolExecutor() as workers:
        for made in workers.map(drawn_anew, specs()):
            entries.update(made)
    for place in sorted(GALLERY.iterdir()):
        if place.name not in entries and place.name != MANIFEST and is_ours(place):
            place.unlink()
            sys.stdout.write(f"gallery/{place.name} removed\n")
    told = {"painter": painter(), "files": entries}
    (GALLERY / MANIFEST).write_text(json.dumps(told, indent=1, sort_keys=True) + "\n", "utf-8")


if __name__ == "__main__":
    main()
