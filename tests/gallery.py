"""Draw gallery/ anew: what README and reviewers look at. ``make gallery`` runs it.

For each shipped spec its card as PDF and PNG, its sheet and all other pictures as PDF; of the
flagship each of these as SVG and PNG too.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from rewire.bench.wire_plan import renumbered
from rewire.cli.files import file_stems, is_ours, write_whole
from rewire.compare import compare
from rewire.draw.paint import paint_pdf, paint_png, paint_svg
from rewire.draw.scene import Scene
from rewire.draw.sheets import alone
from rewire.reading import read_spec
from rewire.records.spec import Spec
from rewire.report.packet import Sources, packet_of
from rewire.report.page import page
from rewire.report.pdf import pdf
from rewire.report.pictures import VIEWS, Picture, Wish, paged, pictures
from tests.draw.card_figures import figures_of
from tests.published.page import PAGE, published_page

ROOT = Path(__file__).parents[1]
GALLERY = ROOT / "gallery"
FLAGSHIP = "valve-amplifier"
_DPI = 110


@dataclass(frozen=True)
class File:
    """A file of the gallery: what is on it, and what paints it when that is asked for."""

    name: str
    scenes: tuple[Scene, ...]
    paint: Callable[[], bytes]


def files_of(path: Path) -> Iterator[File]:
    """Everything in the gallery that comes from one spec."""
    spec = renumbered(read_spec(path))
    packet = packet_of(spec, compare(spec))
    yield File(f"{path.stem}-sheet.pdf", (), lambda: pdf(packet))
    cards = cards_of(path)
    for name, card in zip(file_stems(path.stem, _words(cards)), cards, strict=True):
        yield _pdf(f"{name}.pdf", spec, card.scenes)
        yield _png(f"{name}.png", card.scenes[0])
    drawn = pictures(Wish(spec), tuple(view for view in VIEWS if view != "card")).pictures
    yield _pdf(f"{path.stem}-pictures.pdf", spec, paged(drawn, spec, "a4"))
    if path.stem == FLAGSHIP:
        yield from _one_by_one(spec, path.stem, drawn)
        text = page(packet, Sources(path.read_bytes()))
        yield File(f"{path.stem}-page.html", (), lambda: text)


def _pdf(name: str, spec: Spec, scenes: tuple[Scene, ...]) -> File:
    return File(name, scenes, lambda: paint_pdf(scenes, title=spec.title))


def _words(drawn: Sequence[Picture]) -> list[tuple[str, ...]]:
    return [(picture.view, *picture.about) for picture in drawn]


def _one_by_one(spec: Spec, stem: str, drawn: Sequence[Picture]) -> Iterator[File]:
    for name, picture in zip(file_stems(stem, _words(drawn)), drawn, strict=True):
        for number, sheet in enumerate(picture.scenes, 1):
            scene = alone(sheet, spec, picture.mark)
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


def published() -> File:
    """The page of checks against published figures."""
    text = published_page().encode()
    return File(PAGE.name, (), lambda: text)


@cache
def cards_of(path: Path) -> tuple[Picture, ...]:
    """A spec's cards, one for each plan."""
    return pictures(Wish(renumbered(read_spec(path))), ("card",)).pictures


def card_of(path: Path) -> tuple[Scene, ...]:
    """The pages of a spec's card."""
    (card,) = cards_of(path)
    return card.scenes


_FIGURES = """<!-- rewire-made, by `make gallery` -->

# The cards in figures

Crossings are of wires with wires, jumpers left out; bends are per wire. *Used* is the share of the
first page's squares of 5 mm with something in them.

| spec | paper, mm | pages | crossings | over jumpers | most bends | mean | used | words | text |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
"""


def card_figures() -> File:
    """The page of figures about all cards."""
    rows = [_figures_row(path.stem, card_of(path)) for path in specs()]
    text = f"{_FIGURES}{''.join(rows)}".encode()
    return File("card-figures.md", (), lambda: text)


def _figures_row(name: str, pages: Sequence[Scene]) -> str:
    first = pages[0]
    found = figures_of(first)
    mean = sum(found.bends) / max(1, len(found.bends))
    cells = (
        name, f"{first.width:.0f} × {first.height:.0f}", len(pages), found.crossings,
        found.over_jumpers, max(found.bends, default=0), f"{mean:.1f}", f"{found.used:.0%}",
        found.words, f"{found.smallest:.3g} pt",
    )  # fmt: skip
    return f"| {' | '.join(map(str, cells))} |\n"


def drawn_anew(path: Path) -> list[str]:
    """Write what comes from one spec."""
    return [written(file) for file in files_of(path)]


def written(file: File) -> str:
    """Write a file and name it."""
    write_whole(GALLERY / file.name, file.paint(), force=False)
    return file.name


def main() -> None:
    """Write all files, and remove what is drawn no longer."""
    GALLERY.mkdir(exist_ok=True)
    names = {written(published()), written(card_figures())}
    with ProcessPoolExecutor() as workers:
        names.update(name for made in workers.map(drawn_anew, specs()) for name in made)
    for place in sorted(GALLERY.iterdir()):
        if place.name not in names and is_ours(place):
            place.unlink()
            sys.stdout.write(f"gallery/{place.name} removed\n")


if __name__ == "__main__":
    main()
