"""``rewire sheet``: the printable bench sheet, or the page, by the name of the file.

Opened for this command alone, so what it needs is imported at the top, drawing included.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import click

from rewire.bench.record import record_of
from rewire.bench.wire_plan import renumbered
from rewire.cli.as_json import JSON, dumped, refused, written
from rewire.cli.commands import HELP
from rewire.cli.file_names import stem_with
from rewire.cli.files import check_place, write_whole
from rewire.cli.outcome import say_notices
from rewire.cli.terminal import complain, complain_of, visible, with_progress, write_out
from rewire.cli.trouble import trouble_of, worst_of
from rewire.cli.wirings import wirings_asked
from rewire.compare import compare
from rewire.reading import read_text
from rewire.reading.benchlog import read_bench_log
from rewire.reading.load import bytes_of
from rewire.report.packet import Packet, packet_of
from rewire.report.page import page
from rewire.report.pdf import SECTIONS, pdf

Paper = Literal["a4", "letter"]


@dataclass(frozen=True)
class _Asked:
    """What the sheet shall be."""

    paper: Paper
    wirings: Sequence[str]
    sections: Sequence[str]
    force: bool
    log: Path | None = None
    """What was measured."""


def _pdf(packet: Packet, _: bytes, asked: _Asked) -> bytes:
    return pdf(packet, paper=asked.paper, sections=asked.sections)


def _page(packet: Packet, source: bytes, asked: _Asked) -> bytes:
    return page(packet, source, paper=asked.paper, sections=asked.sections)


_KINDS: Mapping[str, Callable[[Packet, bytes, _Asked], bytes]] = {
    ".pdf": _pdf,
    ".html": _page,
    ".htm": _page,
}
"""How a file's name ends → what makes it."""


def _asked_sections(
    ctx: click.Context, param: click.Parameter, value: str | None
) -> tuple[str, ...]:
    if value is None:
        return tuple(SECTIONS)
    names = tuple(name.strip() for name in value.split(","))
    for name in names:
        if name not in SECTIONS:
            close = difflib.get_close_matches(name, SECTIONS, 1)
            hint = f"did you mean {close[0]}?" if close else f"there are: {', '.join(SECTIONS)}."
            raise click.BadParameter(f"no section {visible(name)!r}; {hint}", ctx, param)
    return names


@click.command(name="sheet", short_help=HELP["sheet"])
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True, type=click.Path())
@click.option(
    "--output",
    "-o",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Where to, for one SPEC: NAME.pdf for paper, NAME.html for a page that turns the "
    "switches. [default: the spec's name, with the wirings and sections chosen, 'measured' with "
    "--log, and .pdf, in this folder]",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option(
    "--wiring",
    "wirings",
    metavar="NAME",
    multiple=True,
    help="Print this wiring beside the original; may be given again. [default: every one]",
)
@click.option(
    "--sections",
    metavar="NAMES",
    callback=_asked_sections,
    help=f"Only these, with commas between: {', '.join(SECTIONS)}. [default: all]",
)
@click.option(
    "--log",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A bench log: adds the as-built record and the report for the owner.",
)
@click.option("--force", is_flag=True, help="Replace a file even if rewire did not make it.")
@click.option("--json", "as_json", is_flag=True, help="Say what was written as JSON.")
@click.pass_context
def command(
    ctx: click.Context,
    specs: Sequence[str],
    output: Path | None,
    paper: Paper,
    wirings: Sequence[str],
    sections: Sequence[str],
    log: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Print the bench packet: verdict, cautions, parts, the work in order, lugs, tests.

    A sheet is written for a broken wiring too, with that verdict on it.

    \b
    Exit status:
      0  every sheet was written
      2  a spec cannot be read, or a file cannot be written
      3  a limit was reached
    """
    if log is not None and len(specs) > 1:
        raise click.UsageError("--log is about one SPEC.", ctx)
    chosen = [*dict.fromkeys(wirings), *(sections if tuple(sections) != tuple(SECTIONS) else ())]
    chosen += ["measured"] if log is not None else []
    places = _places(ctx, specs, output, chosen)
    asked = _Asked(paper, wirings, sections, force, log)
    drawn = (_sheet(file, places[file], asked) for file in places)
    made = list(with_progress("drawing", drawn, len(places)))
    if as_json:
        documents = [document for _, document in made]
        write_out(dumped(documents[0] if len(documents) == 1 else documents))
    ctx.exit(worst_of(status for status, _ in made))


def _places(
    ctx: click.Context, specs: Sequence[str], output: Path | None, chosen: Sequence[str]
) -> dict[str, Path]:
    """Where each spec's sheet goes; no two to one place, and each of a kind that can be made."""
    if output is not None and output.suffix.lower() not in _KINDS:
        said = f"{visible(str(output))}: a sheet is NAME.pdf for paper or NAME.html for a browser."
        raise click.UsageError(said, ctx)
    if output is not None and len(specs) > 1:
        raise click.UsageError("--output names one file: give one SPEC, or leave it out.", ctx)
    places = {file: output or Path(f"{stem_with(Path(file).stem, chosen)}.pdf") for file in specs}
    for place, count in Counter(places.values()).items():
        if count > 1:
            raise click.UsageError(f"{count} sheets would be {place}: give them one by one.", ctx)
    return places


def _sheet(file: str, place: Path, asked: _Asked) -> tuple[int, JSON]:
    """The exit status of one sheet, and its machine output."""
    try:
        packet = _write(file, place, asked)
    except Exception as error:
        trouble = trouble_of(error, file)
        if trouble is None:
            raise
        complain(trouble)
        return trouble.status, refused("sheet", file, trouble)
    complain_of(f"{place}: written ({_told(packet)})")
    return 0, written(file, str(place), packet.results, packet.spec)


def _told(packet: Packet) -> str:
    """The verdicts on the sheet, and whether what was built failed its measurements."""
    verdicts = ", ".join(f"{result.wiring} {result.verdict}" for result in packet.results)
    verdicts = verdicts or "the original alone"
    if packet.record is None or not packet.record.failures:
        return verdicts
    return f"{verdicts}; but as built {packet.record.failures} of what was measured failed"


def _write(file: str, place: Path, asked: _Asked) -> Packet:
    check_place(place, asked.force)
    source = bytes_of(file, "the file")  # once: a pipe gives it once, and an editor may change it
    spec = renumbered(read_text(source, file))
    say_notices(spec.notices)
    names = wirings_asked(spec, asked.wirings)
    results = compare(spec, names)
    packet = packet_of(spec, results, (*names, "original"))
    if asked.log is not None:
        packet = replace(packet, record=record_of(spec, read_bench_log(asked.log, spec)))
    for limit in packet.limits:
        complain_of(f"{file}: not on the sheet: {limit}")
    data = _KINDS[place.suffix.lower()](packet, source, asked)
    write_whole(place, data, asked.force)
    return packet
