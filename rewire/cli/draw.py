"""What is drawn: ``rewire sheet``, the bench packet or its page, and ``rewire draw``, pictures.

Opened for these alone, so what they need is imported at the top, drawing included.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import click

from rewire.bench.record import record_of
from rewire.bench.wire_plan import renumbered
from rewire.cli import HELP, json_of_files, named, specs_argument
from rewire.cli.answers import (
    LIMIT,
    Complaint,
    Refused,
    complain_of,
    known_names,
    say_notices,
    write_documents,
    write_files,
)
from rewire.cli.files import check_place, safe, stem_with, write_whole
from rewire.compare import compare
from rewire.draw.paint import paint_pdf, paint_png, paint_svg
from rewire.draw.scene import visible
from rewire.draw.sheets import alone
from rewire.draw.symbols import Standard
from rewire.reading import read_spec, read_text
from rewire.reading.benchlog import read_bench_log
from rewire.reading.text import bytes_of
from rewire.records.spec import Spec
from rewire.records.switches import Switch
from rewire.report.check import counted
from rewire.report.contents import SECTIONS
from rewire.report.machine import JSON, document
from rewire.report.packet import Packet, packet_of
from rewire.report.page import page
from rewire.report.pdf import Sources, pdf
from rewire.report.pictures import VIEWS, Made, Picture, Wish, paged, pictures
from rewire.words.wording import known_here, nearest, printable, shown

Paper = Literal["a4", "letter"]
_paper_option = click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True
)
_force_option = click.option(
    "--force", is_flag=True, help="Replace a file even if rewire did not make it."
)
Format = Literal["pdf", "svg", "png"]
FORMATS: tuple[Format, ...] = ("pdf", "svg", "png")
_SHEETS = (".pdf", ".html", ".htm")
"""How the name of a sheet may end."""
_LONGEST = 80
_ALL = "all"
_ONE = "--output names one file: give one"


def _words(known: Sequence[str]) -> Callable[..., tuple[str, ...]]:
    """A list of words of ``known`` with commas between them; empty where it is not given."""

    def checked(ctx: click.Context, param: click.Parameter, text: str | None) -> tuple[str, ...]:
        words = [word.strip() for word in (text or "").split(",") if word.strip()]
        for word in words:
            if word not in known:
                close = nearest(word, known)
                hint = f"Did you mean {close}?" if close else f"There are: {', '.join(known)}."
                raise click.BadParameter(f"{shown(word)} is not known. {hint}", ctx, param)
        if text is not None and not words:
            raise click.BadParameter(f"a list is wanted: {', '.join(known)}.", ctx, param)
        return tuple(word for word in known if word in words)

    return checked


@dataclass(frozen=True, slots=True)
class Written:
    """One file, and what is on it."""

    place: Path
    data: bytes
    format: Format
    views: tuple[str, ...]
    sheets: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Order:
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
        return tuple(dict.fromkeys(words))

    def wish(self, spec: Spec) -> Wish:
        """What is drawn of one spec."""
        return Wish(spec, self.wirings, self.switches, self.readings, self.seen_from, self.paper,
                    self.symbols)  # fmt: skip

    def place(self, name: str) -> Path:
        """Where a file of this name goes."""
        return self.one_file or (self.output or Path()) / name


@click.command(name="draw", short_help=HELP["draw"])
@specs_argument
@click.option(
    "--view", "views", metavar="LIST", default="card", callback=_words((*VIEWS, _ALL)),
    help=f"What to draw, commas between: {', '.join(VIEWS)}, or {_ALL}. [default: card]",
)  # fmt: skip
@named("--wiring", "wirings", "Draw this wiring alone; may be given again. [default: every one]")
@named("--switch", "switches", "Draw this switch alone; may be given again. [default: every one]")
@named(
    "--reading", "readings",
    "Draw the circuit of this reading alone; may be given again. [default: every one]",
)  # fmt: skip
@click.option(
    "--from", "seen_from", type=click.Choice(["behind", "front"]), default="behind",
    show_default=True, help="Side the switch is seen from.",
)  # fmt: skip
@click.option(
    "--format", "formats", metavar="LIST", callback=_words(FORMATS),
    help="pdf, svg, png, commas between; PDF holds all sheets in one file. [default: pdf]",
)  # fmt: skip
@_paper_option
@click.option(
    "--symbols", type=click.Choice(["iec", "us"]), default="iec", show_default=True,
    help="Symbols of the circuit: of IEC 60617, or of IEEE 315.",
)  # fmt: skip
@click.option(
    "--output", "-o", metavar="PLACE", type=click.Path(path_type=Path),
    help="A folder, or a file where it all goes into one. [default: this folder]",
)  # fmt: skip
@_force_option
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
    order = Order(**given)
    views = tuple(VIEWS) if _ALL in order.views else order.views
    order = replace(order, formats=_formats(order), views=views)
    if order.one_file is not None and len(order.specs) > 1:
        raise click.UsageError(f"{_ONE} SPEC, or a folder that exists.", ctx)
    for stem, count in Counter(Path(file).stem.casefold() for file in order.specs).items():
        if count > 1:
            raise click.UsageError(f"{count} specs are called {stem}: draw them one by one.", ctx)
    status, told = write_files("draw", order.specs, lambda file: _drawn(file, order))
    if order.as_json:
        write_documents(told)
    ctx.exit(status)


def _formats(order: Order) -> tuple[Format, ...]:
    """As asked; else as the ending of the one file says.

    Raises:
        click.UsageError: the two do not agree.
    """
    output, ends = order.one_file, tuple(f".{known}" for known in FORMATS)
    if output is None:
        return order.formats or ("pdf",)
    ending = output.suffix.lower()
    wanted = order.formats or tuple(known for known in FORMATS if f".{known}" == ending)
    if len(wanted) > 1:
        raise click.UsageError(f"{_ONE} --format, or a folder that exists.")
    if not wanted:
        message = f"--output {output}: end it in {', '.join(ends)}, or name a folder that exists."
        raise click.UsageError(message)
    if ending in ends and ending != f".{wanted[0]}":
        message = f"--output {output} ends in {ending}, but --format is {wanted[0]}."
        raise click.UsageError(f"{message} Leave one of them out.")
    return wanted


def _drawn(file: str, order: Order) -> tuple[int, JSON]:
    """Draw everything first: either all files of a spec are written or none.

    Returns:
        The exit status of one spec, and its machine output.
    """
    if order.one_file is not None:
        check_place(order.one_file, order.force)
    spec = renumbered(read_spec(file))
    say_notices(spec.notices)
    wish = order.wish(spec)
    _check_names(wish)
    made = pictures(wish, order.views)
    if not made.pictures:
        asked = " and ".join(order.views)
        message = f"there is nothing to draw of what was asked ({asked})"
        some = wish.switches or wish.readings or wish.wirings
        all_there_is = "leave out --wiring, --switch or --reading to draw all there is"
        hint = all_there_is if some else f"other views: {', '.join(VIEWS)}"
        raise Refused(Complaint(message, file, hint=hint))
    files = [one for format_ in order.formats for one in _files(spec, made, format_, order)]
    for one in files:
        check_place(one.place, order.force)
    for one in files:
        write_whole(one.place, one.data, order.force)
        complain_of(f"{one.place}: written ({counted(len(one.sheets), 'sheet')})")
    for limit in made.limits:
        complain_of(f"{file}: left out: {limit}")
    results = [
        {"output": str(one.place), "format": one.format, "views": one.views,
         "sheets": [visible(sheet) for sheet in one.sheets]}
        for one in files
    ]  # fmt: skip
    return LIMIT if made.limits else 0, document("draw", made.limits, spec=file, results=results)


def _check_names(wish: Wish) -> None:
    """See that the spec has all that was named.

    Raises:
        Refused: it does not.
    """
    spec = wish.spec
    known_names("wiring", wish.wirings, spec.wirings, spec.file)
    wirings = list(wish.drawn_wirings())
    switches = [name for wiring in wirings for name in spec.all_of(Switch, wiring)]
    known_names("switch", wish.switches, switches, spec.file)
    readings = [*spec.readings, *(name for wiring in wirings for name in wiring.readings)]
    known_names("reading", wish.readings, readings, spec.file)


def _files(spec: Spec, made: Made, format_: Format, order: Order) -> Iterator[Written]:
    drawn = made.pictures
    if format_ == "pdf":
        yield _document(spec, drawn, order)
        return
    count = sum(len(picture.scenes) for picture in drawn)
    if order.one_file is not None and count > 1:
        message = f"not written: there are {count} sheets, and {format_} holds one"
        hint = "name a folder that exists, or choose with --view, --wiring and --switch"
        raise Refused(Complaint(message, str(order.one_file), hint=hint))
    for name, picture in zip(file_stems(Path(spec.file).stem, drawn), drawn, strict=True):
        for number, scene in enumerate(picture.scenes, 1):
            page = f"-part{number}" if len(picture.scenes) > 1 else ""
            place = order.place(f"{name}{page}.{format_}")
            whole = scene if picture.whole else alone(scene, spec, picture.broken)
            data = paint_svg(whole) if format_ == "svg" else paint_png(whole)
            yield Written(place, data, format_, (picture.view,), (scene.title,))


def _document(spec: Spec, drawn: Sequence[Picture], order: Order) -> Written:
    views = tuple(dict.fromkeys(picture.view for picture in drawn))
    what = views[0] if len(views) == 1 else "pictures"
    name = stem_with(f"{Path(spec.file).stem}-{what}", order.chosen)
    scenes = paged(drawn, spec, order.paper)
    data = paint_pdf(
        scenes, title=visible(spec.title), author=spec.document.author,
        subject=visible(spec.equipment or ""),
    )  # fmt: skip
    titles = tuple(scene.title for scene in scenes)
    return Written(order.place(f"{name}.pdf"), data, "pdf", views, titles)


def file_stems(stem: str, drawn: Sequence[Picture]) -> list[str]:
    """A name for the file of each picture, without its ending; no two alike on any system.

    Names in a spec are data: only letters, digits, ``_``, ``+`` and ``-`` of them get into a
    file's name.
    """
    stems: list[str] = []
    taken: set[str] = set()
    for picture in drawn:
        words = (safe(word) for word in (picture.view, *picture.about))
        wished = "-".join(words)[:_LONGEST]
        name, number = wished, 1
        while name.casefold() in taken:
            number += 1
            name = f"{wished}_{number}"
        taken.add(name.casefold())
        stems.append(f"{stem}-{name}")
    return stems


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What ``rewire sheet`` was asked, the same for every spec."""

    specs: tuple[str, ...]
    output: Path | None
    paper: Paper
    wirings: tuple[str, ...]
    sections: tuple[str, ...]
    log: Path | None
    """What was measured."""
    force: bool
    as_json: bool

    def place(self, file: str) -> Path:
        """Where the sheet of a spec goes: what was chosen of all there is stands in its name."""
        measured = ["measured"] if self.log is not None else []
        chosen = [*dict.fromkeys(self.wirings), *self.sections, *measured]
        return self.output or Path(f"{stem_with(Path(file).stem, chosen)}.pdf")


@click.command(name="sheet", short_help=HELP["sheet"])
@specs_argument
@click.option(
    "--output", "-o", metavar="FILE", type=click.Path(path_type=Path),
    help="Where to, for one SPEC: NAME.pdf for paper, NAME.html for a page that turns the "
    "switches. [default: the spec's name, with the wirings and sections chosen, 'measured' with "
    "--log, and .pdf, in this folder]",
)  # fmt: skip
@_paper_option
@named(
    "--wiring", "wirings",
    "Print this wiring beside the original; may be given again. [default: every one]",
)  # fmt: skip
@click.option(
    "--sections", metavar="NAMES", callback=_words((*SECTIONS, _ALL)),
    help=f"Only these, commas between: {', '.join(SECTIONS)}; all prints the evidence too, which "
    "begins with verdict. The cautions are always there. [default: all up to owner]",
)  # fmt: skip
@click.option(
    "--log", metavar="FILE", type=click.Path(path_type=Path),
    help="A bench log: adds the as-built record and the report for the owner.",
)  # fmt: skip
@_force_option
@json_of_files
@click.pass_context
def sheet_command(ctx: click.Context, /, **given: Any) -> None:
    """Print the bench packet: verdict, cautions, parts, the work in order, lugs, tests.

    A sheet is written for a broken wiring too, with that verdict on it.

    \b
    Exit status:
      0  every sheet was written
      2  a spec cannot be read, or a file cannot be written
      3  a limit was reached
    """
    asked = _Sheet(**given)
    output = asked.output
    if asked.log is not None and len(asked.specs) > 1:
        raise click.UsageError("--log is about one SPEC.", ctx)
    if output is not None and output.suffix.lower() not in _SHEETS:
        said = "a sheet is NAME.pdf for paper or NAME.html for a browser."
        raise click.UsageError(f"{printable(str(output))}: {said}", ctx)
    if output is not None and len(asked.specs) > 1:
        raise click.UsageError(f"{_ONE} SPEC, or leave it out.", ctx)
    files = tuple(dict.fromkeys(asked.specs))
    for place, count in Counter(map(asked.place, files)).items():
        if count > 1:
            raise click.UsageError(f"{count} sheets would be {place}: give them one by one.", ctx)
    status, told = write_files("sheet", files, lambda file: _printed(file, asked))
    if asked.as_json:
        write_documents(told)
    ctx.exit(status)


def _printed(file: str, asked: _Sheet) -> tuple[int, JSON]:
    """The exit status of one sheet, and its machine output."""
    place = asked.place(file)
    check_place(place, asked.force)
    source = bytes_of(file, "the file")  # once: a pipe gives it once, and an editor may change it
    spec = renumbered(read_text(source, file))
    say_notices(spec.notices)
    packet = _packet(spec, asked)
    for limit in packet.limits:
        complain_of(f"{file}: not on the sheet: {limit}")
    sections = tuple(SECTIONS) if _ALL in asked.sections else asked.sections or None
    if place.suffix.lower() == ".pdf":
        log = None if asked.log is None else bytes_of(asked.log, "the bench log")
        data = pdf(packet, Sources(source, log), paper=asked.paper, sections=sections)
    else:
        data = page(packet, source, paper=asked.paper, sections=sections)
    write_whole(place, data, asked.force)
    complain_of(f"{place}: written ({_told(packet)})")
    verdicts = [
        {"wiring": r.wiring, "role": spec.wirings[r.wiring].role, "verdict": r.verdict}
        for r in packet.results
    ]
    return 0, document("sheet", spec=file, output=str(place), results=verdicts)


def _packet(spec: Spec, asked: _Sheet) -> Packet:
    """What is printed of the wirings named, or of every one but the original if none is.

    Raises:
        Refused: a name that is no wiring of the spec, or the original's.
    """
    others = [wiring.name for wiring in spec.others]
    if "original" in asked.wirings:
        message = "'original' is what the others are compared with, and on every sheet beside them"
        raise Refused(Complaint(message, spec.file, hint=known_here(others)))
    known_names("wiring", asked.wirings, others, spec.file)
    names = tuple(dict.fromkeys(asked.wirings or others))
    packet = packet_of(spec, compare(spec, names), (*names, "original"))
    if asked.log is None:
        return packet
    return replace(packet, record=record_of(spec, read_bench_log(asked.log, spec)))


def _told(packet: Packet) -> str:
    """The verdicts on the sheet, and whether what was built failed its measurements."""
    verdicts = ", ".join(f"{result.wiring} {result.verdict}" for result in packet.results)
    verdicts = verdicts or "the original alone"
    if packet.record is None or not packet.record.failures:
        return verdicts
    return f"{verdicts}; but as built {packet.record.failures} of what was measured failed"
