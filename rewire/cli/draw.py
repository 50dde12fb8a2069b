"""``rewire draw``: the pictures alone, for the wall, a page or a forum post.

Opened for this command alone, so what it needs is imported at the top, drawing included.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

import click

from rewire.bench.wire_plan import renumbered
from rewire.cli.as_json import JSON, drawn, dumped, refused
from rewire.cli.commands import HELP
from rewire.cli.file_names import stem_with
from rewire.cli.files import check_place, write_whole
from rewire.cli.outcome import say_notices
from rewire.cli.pictures import VIEWS, Picture, Wish, file_stems, on_sheets, pictures
from rewire.cli.terminal import complain, complain_of, with_progress, write_out
from rewire.cli.trouble import LIMIT, Complaint, Refused, trouble_of, worst_of
from rewire.draw import paint_pdf, paint_png, paint_svg
from rewire.draw.foot import alone, footed
from rewire.draw.measure import visible
from rewire.reading import read_spec
from rewire.records.spec import Spec
from rewire.words.wording import nearest, shown

Format = Literal["pdf", "svg", "png"]
FORMATS: tuple[Format, ...] = ("pdf", "svg", "png")
Word = TypeVar("Word", bound=str)


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
    """What the command line asks for, the same for every spec."""

    views: tuple[str, ...]
    formats: tuple[Format, ...]
    output: Path | None
    force: bool
    wish: Callable[[Spec], Wish]
    chosen: tuple[str, ...] = ()
    """What was chosen of all there is, for the name of a file that holds many pictures."""


def _words(known: Sequence[Word]) -> Callable[..., tuple[Word, ...]]:
    """A list of words with commas between them, each one of ``known``."""

    def checked(ctx: click.Context, param: click.Parameter, text: str | None) -> tuple[Word, ...]:
        if text is None:
            return ()
        words = [word.strip() for word in text.split(",") if word.strip()]
        for word in words:
            if word not in known:
                close = nearest(word, known)
                hint = f"Did you mean {close}?" if close else f"There are: {', '.join(known)}."
                raise click.BadParameter(f"{shown(word)} is not known. {hint}", ctx, param)
        if not words:
            raise click.BadParameter(f"a list is wanted: {', '.join(known)}.", ctx, param)
        return tuple(word for word in known if word in words)

    return checked


@click.command(name="draw", short_help=HELP["draw"])
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True, type=click.Path())
@click.option(
    "--view",
    "views",
    metavar="LIST",
    callback=_words(tuple(VIEWS)),
    help=f"What to draw, commas between: {', '.join(VIEWS)}. [default: all the spec has]",
)
@click.option(
    "--wiring",
    "wirings",
    metavar="NAME",
    multiple=True,
    help="Draw this wiring alone; may be given again. [default: every one]",
)
@click.option(
    "--switch",
    "switches",
    metavar="NAME",
    multiple=True,
    help="Draw this switch alone; may be given again. [default: every one]",
)
@click.option(
    "--reading",
    "readings",
    metavar="NAME",
    multiple=True,
    help="Draw the circuit of this reading alone; may be given again. [default: every one]",
)
@click.option(
    "--from",
    "seen_from",
    type=click.Choice(["behind", "front"]),
    default="behind",
    show_default=True,
    help="From where a switch is seen.",
)
@click.option(
    "--format",
    "formats",
    metavar="LIST",
    callback=_words(FORMATS),
    help="pdf, svg, png, commas between; PDF holds all sheets in one file. [default: pdf]",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option(
    "--output",
    "-o",
    metavar="PLACE",
    type=click.Path(path_type=Path),
    help="A folder, or a file where it all goes into one. [default: this folder]",
)
@click.option("--force", is_flag=True, help="Replace a file even if rewire did not make it.")
@click.option("--json", "as_json", is_flag=True, help="Say what was written as JSON.")
@click.pass_context
def command(
    ctx: click.Context,
    specs: Sequence[str],
    views: tuple[str, ...],
    wirings: tuple[str, ...],
    switches: tuple[str, ...],
    readings: tuple[str, ...],
    seen_from: Literal["behind", "front"],
    formats: tuple[Format, ...],
    paper: Literal["a4", "letter"],
    output: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Draw the pictures: where every wire lands, seen with the iron in hand.

    PDF is for printing at its true size; SVG and PNG hold one picture each, cut out of its sheet.

    \b
    Exit status:
      0  everything was drawn
      2  a spec cannot be read or drawn, or a file cannot be written
      3  a limit was reached
    """

    def wish(spec: Spec) -> Wish:
        return Wish(spec, wirings, switches, readings, seen_from, paper)

    several = views if 1 < len(views) < len(VIEWS) else ()
    side = ("front",) if seen_from == "front" else ()
    chosen = tuple(dict.fromkeys((*several, *wirings, *switches, *readings, *side)))
    order = Order(
        views or tuple(VIEWS), _formats(ctx, formats, output), output, force, wish, chosen
    )
    _no_two_alike(ctx, specs, order)
    made = list(with_progress("drawing", (_drawn(file, order) for file in specs), len(specs)))
    if as_json:
        documents = [document for _, document in made]
        write_out(dumped(documents[0] if len(documents) == 1 else documents))
    ctx.exit(worst_of(status for status, _ in made))


def _formats(
    ctx: click.Context, formats: tuple[Format, ...], output: Path | None
) -> tuple[Format, ...]:
    """As asked; else as the ending of the one file says."""
    if output is None or not _is_file(output):
        return formats or ("pdf",)
    ending = output.suffix.removeprefix(".").lower()
    wanted = formats or tuple(f for f in FORMATS if f == ending)
    if not wanted:
        message = f"--output {output}: end it in {', '.join(f'.{f}' for f in FORMATS)}, or "
        raise click.UsageError(f"{message}name a folder that exists.", ctx)
    if ending in FORMATS and set(wanted) != {ending}:
        message = f"--output {output} ends in .{ending}, but --format is {', '.join(wanted)}."
        raise click.UsageError(f"{message} Leave one of them out.", ctx)
    if len(wanted) > 1:
        message = "--output names one file: give one --format, or a folder that exists."
        raise click.UsageError(message, ctx)
    return wanted


def _is_file(output: Path) -> bool:
    return not output.is_dir()


def _no_two_alike(ctx: click.Context, specs: Sequence[str], order: Order) -> None:
    if order.output is not None and _is_file(order.output) and len(specs) > 1:
        message = "--output names one file: give one SPEC, or a folder that exists."
        raise click.UsageError(message, ctx)
    for stem, count in Counter(Path(file).stem.casefold() for file in specs).items():
        if count > 1:
            message = f"{count} specs are called {stem}: draw them one by one."
            raise click.UsageError(message, ctx)


def _drawn(file: str, order: Order) -> tuple[int, JSON]:
    """The exit status of one spec, and its machine output."""
    try:
        files, limits = _write(file, order)
    except Exception as error:
        trouble = trouble_of(error, file)
        if trouble is None:
            raise
        complain(trouble)
        return trouble.status, refused("draw", file, trouble)
    for one in files:
        count = len(one.sheets)
        complain_of(f"{one.place}: written ({count} sheet{'' if count == 1 else 's'})")
    for limit in limits:
        complain_of(f"{file}: left out: {limit}")
    document = drawn(
        file, [(str(f.place), f.format, f.views, [visible(s) for s in f.sheets]) for f in files]
    )
    return (LIMIT, {**document, "limit": "; ".join(limits)}) if limits else (0, document)


def _write(file: str, order: Order) -> tuple[list[Written], tuple[str, ...]]:
    """Draw everything first: either all files of a spec are written or none."""
    if order.output is not None and _is_file(order.output):
        check_place(order.output, order.force)
    spec = renumbered(read_spec(file))
    say_notices(spec.notices)
    made = pictures(order.wish(spec), order.views)
    files = [
        one for format_ in order.formats for one in _files(spec, made.pictures, format_, order)
    ]
    for one in files:
        check_place(one.place, order.force)
    for one in files:
        write_whole(one.place, one.data, order.force)
    return files, made.limits


def _files(spec: Spec, made: Sequence[Picture], format_: Format, order: Order) -> Iterator[Written]:
    stem = Path(spec.file).stem
    views = tuple(dict.fromkeys(picture.view for picture in made))
    if format_ == "pdf":
        what = views[0] if len(views) == 1 else "pictures"
        place = _place(f"{stem_with(f'{stem}-{what}', order.chosen)}.pdf", order)
        sheets = on_sheets(made, order.wish(spec).paper)
        scenes = footed([scene for scene, _ in sheets], spec, [broken for _, broken in sheets])
        data = paint_pdf(
            scenes, title=visible(spec.title), author=spec.document.author,
            subject=visible(spec.equipment or ""),
        )  # fmt: skip
        yield Written(place, data, format_, views, tuple(scene.title for scene in scenes))
        return
    count = sum(len(picture.scenes) for picture in made)
    if order.output is not None and _is_file(order.output) and count > 1:
        message = f"not written: there are {count} sheets, and {format_} holds one"
        hint = "name a folder that exists, or choose with --view, --wiring and --switch"
        raise Refused(Complaint(message, str(order.output), hint=hint))
    for name, picture in zip(file_stems(stem, made), made, strict=True):
        for number, scene in enumerate(picture.scenes, 1):
            page = f"-part{number}" if len(picture.scenes) > 1 else ""
            place = _place(f"{name}{page}.{format_}", order)
            whole = alone(scene, spec, picture.broken)
            data = paint_svg(whole) if format_ == "svg" else paint_png(whole)
            yield Written(place, data, format_, (picture.view,), (scene.title,))


def _place(name: str, order: Order) -> Path:
    if order.output is None:
        return Path(name)
    return order.output / name if not _is_file(order.output) else order.output
