"""Pictures: ``rewire draw``.

Opened for this alone, so what it needs is imported at the top, drawing included.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import click

from rewire.bench.wire_plan import renumbered
from rewire.cli.answers import known_names, say_notices, write_files
from rewire.cli.files import check_place, file_stems, stem_with, write_whole
from rewire.cli.options import (
    ALL,
    ONE,
    Paper,
    choice_option,
    file_option,
    flag_option,
    force_option,
    json_of_files,
    named,
    paper_option,
    specs_argument,
    words_option,
)
from rewire.cli.terminal import complain_of
from rewire.cli.trouble import LIMIT, Refused, refusal
from rewire.draw.paint import paint_pdf, paint_png, paint_svg
from rewire.draw.scene import visible
from rewire.draw.sheets import alone
from rewire.draw.symbols import Standard
from rewire.reading import read_spec
from rewire.reading.benchlog import read_bench_log
from rewire.records.spec import Spec
from rewire.records.switches import Switch
from rewire.report.check import counted
from rewire.report.dial import DARK, MIRRORED, Finish
from rewire.report.machine import JSON, document
from rewire.report.pictures import VIEWS, Made, Picture, Wish, paged, pictures

Format = Literal["pdf", "svg", "png"]
FORMATS: tuple[Format, ...] = ("pdf", "svg", "png")
_LACKING: dict[Sequence[str], str] = {
    ("dial",): "give the meter a plate, such as dial: {radius: 38 mm}",
    ("template",): "give the switches or meters a mount, such as mount: {bush: M9, shaft: 6 mm}",
}
"""What a spec lacks in which there is nothing of a view."""


@dataclass(frozen=True, slots=True)
class _Written:
    """One file and what it shows."""

    place: Path
    data: bytes
    format: Format
    views: tuple[str, ...]
    sheets: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What ``rewire draw`` was asked, the same for every spec."""

    specs: tuple[str, ...]
    views: tuple[str, ...]
    wirings: tuple[str, ...]
    switches: tuple[str, ...]
    readings: tuple[str, ...]
    seen_from: Literal["behind", "front"]
    formats: tuple[Format, ...]
    paper: Paper
    symbols: Standard
    log: Path | None
    mirrored: bool
    dark: bool
    output: Path | None
    force: bool
    as_json: bool

    @property
    def one_file(self) -> Path | None:
        """The file that it all goes into, if one was named."""
        return None if self.output is None or self.output.is_dir() else self.output

    @property
    def chosen(self) -> tuple[str, ...]:
        """What was chosen of all there is, for the name of a file that holds many pictures."""
        several = self.views if 1 < len(self.views) < len(VIEWS) else ()
        side = ("front",) if self.seen_from == "front" else ()
        words = (*several, *self.wirings, *self.switches, *self.readings, *side)
        return tuple(dict.fromkeys((*words, *sorted(self.finish))))

    @property
    def finish(self) -> Finish:
        """How a plate is printed."""
        both = {MIRRORED: self.mirrored, DARK: self.dark}
        return frozenset(name for name, asked in both.items() if asked)

    def wish(self, spec: Spec) -> Wish:
        """What is drawn of one spec."""
        return Wish(
            spec,
            self.wirings,
            self.switches,
            self.readings,
            self.seen_from,
            self.paper,
            self.symbols,
            log=None if self.log is None else read_bench_log(self.log, spec),
            finish=self.finish,
        )

    def place(self, name: str) -> Path:
        """Where a file of this name goes."""
        return self.one_file or (self.output or Path()) / name


@click.command("draw")
@specs_argument
@words_option(
    "--view views",
    (*VIEWS, ALL),
    f"Draw these, commas between: {', '.join(VIEWS)}, or {ALL}. [default: card]",
)
@named("--wiring", "wirings", "Draw this wiring alone; may be given again. [default: every one]")
@named("--switch", "switches", "Draw this switch alone; may be given again. [default: every one]")
@named(
    "--reading",
    "readings",
    "Draw the circuit of this reading alone; may be given again. [default: every one]",
)
@choice_option("--from seen_from", ["behind", "front"], "Show the switches as seen from this side.")
@words_option(
    "--format formats",
    FORMATS,
    "Draw as pdf, svg or png, commas between; a PDF holds all in one file. [default: pdf]",
)
@paper_option
@choice_option(
    "--symbols", ["iec", "us"], "Draw the circuit with the symbols of IEC 60617, or of IEEE 315."
)
@file_option(
    "--log", "FILE", "Draw the dial to what the movement was measured to do, by this bench log."
)
@flag_option("--mirrored", "Mirror the dial, for a film laid face down.")
@flag_option("--dark", "Draw the dial white on black.")
@file_option(
    "--output -o",
    "PATH",
    "Write into this folder, or to this file if all goes into one. [default: this folder]",
)
@force_option
@json_of_files
@click.pass_context
def draw_command(ctx: click.Context, /, **given: Any) -> None:
    """Draw the card: the whole swap on one page, to be taped above the bench and passed on.

    One for each plan: what is soldered where, the circuit, what to buy, what it reads, other
    meters, what to prove before there is power. --view draws other pictures. PDF is for printing
    at its true size; SVG and PNG (200 dots to the inch) hold one picture each.

    \b
    Exit status:
      0  everything was drawn
      2  a spec cannot be read or drawn, or a file cannot be written
      3  a limit was reached
    """
    asked = _Asked(**given)
    views = tuple(VIEWS) if ALL in asked.views else asked.views or ("card",)
    asked = replace(asked, formats=_formats(asked), views=views)
    if asked.one_file is not None and len(asked.specs) > 1:
        raise click.UsageError(f"{ONE} SPEC, or a folder that exists.", ctx)
    if (asked.log is not None or asked.finish) and "dial" not in asked.views:
        raise click.UsageError("--log, --mirrored and --dark are about --view dial.", ctx)
    if asked.log is not None and len(asked.specs) > 1:
        raise click.UsageError("--log is about one SPEC.", ctx)
    for stem, count in Counter(Path(file).stem.casefold() for file in asked.specs).items():
        if count > 1:
            raise click.UsageError(f"{count} specs are called {stem}: draw them one by one.", ctx)
    ctx.exit(write_files("draw", asked.specs, lambda file: _drawn(file, asked), asked.as_json))


def _formats(asked: _Asked) -> tuple[Format, ...]:
    """As asked; else as the ending of the one file says; refused where the two do not agree."""
    output, ends = asked.one_file, tuple(f".{known}" for known in FORMATS)
    if output is None:
        return asked.formats or ("pdf",)
    ending = output.suffix.lower()
    wanted = asked.formats or tuple(known for known in FORMATS if f".{known}" == ending)
    if len(wanted) > 1:
        raise click.UsageError(f"{ONE} --format, or a folder that exists.")
    if not wanted or not (ending or output.exists()):
        message = f"--output {output}: end it in {', '.join(ends)}, or name a folder that exists."
        raise click.UsageError(message)
    if ending in ends and ending != f".{wanted[0]}":
        message = f"--output {output} ends in {ending}, but --format is {wanted[0]}."
        raise click.UsageError(f"{message} Leave one of them out.")
    return wanted


def _drawn(file: str, asked: _Asked) -> tuple[int, JSON]:
    """The exit status of one spec, and its machine output.

    Everything is drawn first: either all files of a spec are written or none.
    """
    if asked.one_file is not None:
        check_place(asked.one_file, asked.force)
    spec = renumbered(read_spec(file))
    say_notices(spec.notices)
    wish = asked.wish(spec)
    _check_names(wish)
    made = pictures(wish, asked.views)
    if not made.pictures:
        raise _nothing_drawn(file, wish, asked.views)
    files = [one for format_ in asked.formats for one in _files(spec, made, format_, asked)]
    for one in files:
        check_place(one.place, asked.force)
    for one in files:
        write_whole(one.place, one.data, asked.force)
        complain_of(f"{one.place}: written ({counted(len(one.sheets), 'sheet')})")
    for limit in made.limits:
        complain_of(f"{file}: left out: {limit}")
    results = [
        {
            "output": str(one.place),
            "format": one.format,
            "views": one.views,
            "sheets": [visible(sheet) for sheet in one.sheets],
        }
        for one in files
    ]
    return LIMIT if made.limits else 0, document("draw", made.limits, spec=file, results=results)


def _nothing_drawn(file: str, wish: Wish, views: Sequence[str]) -> Refused:
    hint = _LACKING.get(views, f"other views: {', '.join(VIEWS)}")
    if wish.switches or wish.readings or wish.wirings:
        hint = "leave out --wiring, --switch or --reading to draw all there is"
    message = f"there is nothing to draw of what was asked ({' and '.join(views)})"
    return refusal(message, file, hint)


def _check_names(wish: Wish) -> None:
    spec = wish.spec
    known_names("wiring", wish.wirings, spec.wirings, spec.file)
    wirings = list(wish.drawn_wirings())
    switches = [name for wiring in wirings for name in spec.all_of(Switch, wiring)]
    known_names("switch", wish.switches, switches, spec.file)
    readings = [*spec.readings, *(name for wiring in wirings for name in wiring.readings)]
    known_names("reading", wish.readings, readings, spec.file)


def _files(spec: Spec, made: Made, format_: Format, asked: _Asked) -> Iterator[_Written]:
    drawn = made.pictures
    if format_ == "pdf":
        yield _document(spec, drawn, asked)
        return
    count = sum(len(picture.scenes) for picture in drawn)
    if asked.one_file is not None and count > 1:
        message = f"not written: there are {count} sheets, and {format_} holds one"
        hint = "name a folder that exists, or choose with --view, --wiring and --switch"
        raise refusal(message, str(asked.one_file), hint)
    words = [(picture.view, *picture.about) for picture in drawn]
    for name, picture in zip(file_stems(Path(spec.file).stem, words), drawn, strict=True):
        for number, scene in enumerate(picture.scenes, 1):
            page = f"-part{number}" if len(picture.scenes) > 1 else ""
            place = asked.place(f"{name}{page}.{format_}")
            whole = scene if picture.whole else alone(scene, spec, picture.mark)
            data = paint_svg(whole) if format_ == "svg" else paint_png(whole)
            yield _Written(place, data, format_, (picture.view,), (scene.title,))


def _document(spec: Spec, drawn: Sequence[Picture], asked: _Asked) -> _Written:
    views = tuple(dict.fromkeys(picture.view for picture in drawn))
    what = views[0] if len(views) == 1 else "pictures"
    name = stem_with(f"{Path(spec.file).stem}-{what}", asked.chosen)
    scenes = paged(drawn, spec, asked.paper)
    data = paint_pdf(
        scenes,
        title=visible(spec.title),
        author=spec.document.author,
        subject=visible(spec.equipment or ""),
    )
    titles = tuple(scene.title for scene in scenes)
    return _Written(asked.place(f"{name}.pdf"), data, "pdf", views, titles)
