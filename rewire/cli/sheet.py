"""``rewire sheet``: the printable bench sheet, or the page, by the name of the file.

Opened for this command alone, so what it needs is imported at the top, drawing included.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import click

from rewire.bench.record import record_of
from rewire.bench.wire_plan import renumbered
from rewire.cli.answers import (
    Complaint,
    Refused,
    complain,
    known_names,
    refused,
    say_notices,
    trouble_of,
    worst_of,
    write_documents,
)
from rewire.cli.commands import HELP, force_option, json_of_files, paper_option, specs_argument
from rewire.cli.files import check_place, stem_with, write_whole
from rewire.cli.terminal import complain_of, with_progress
from rewire.compare import compare
from rewire.reading import read_text
from rewire.reading.benchlog import read_bench_log
from rewire.reading.text import bytes_of
from rewire.records.spec import Spec
from rewire.report.machine import JSON, headed
from rewire.report.packet import Packet, packet_of
from rewire.report.page import page
from rewire.report.pdf import SECTIONS, pdf
from rewire.words.wording import known_here, nearest, printable, shown

Paper = Literal["a4", "letter"]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the sheet shall be."""

    specs: Sequence[str]
    output: Path | None
    paper: Paper
    wirings: Sequence[str]
    sections: tuple[str, ...]
    log: Path | None
    """What was measured."""
    force: bool
    as_json: bool

    @property
    def chosen(self) -> list[str]:
        """What was chosen of all there is, for the name of the file."""
        some = self.sections if self.sections != tuple(SECTIONS) else ()
        measured = ["measured"] if self.log is not None else []
        return [*dict.fromkeys(self.wirings), *some, *measured]


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
            close = nearest(name, SECTIONS)
            hint = f"did you mean {close}?" if close else f"there are: {', '.join(SECTIONS)}."
            raise click.BadParameter(f"no section {shown(name)}; {hint}", ctx, param)
    return names


@click.command(name="sheet", short_help=HELP["sheet"])
@specs_argument
@click.option(
    "--output",
    "-o",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Where to, for one SPEC: NAME.pdf for paper, NAME.html for a page that turns the "
    "switches. [default: the spec's name, with the wirings and sections chosen, 'measured' with "
    "--log, and .pdf, in this folder]",
)
@paper_option
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
@force_option
@json_of_files
@click.pass_context
def sheet(ctx: click.Context, /, **given: Any) -> None:
    """Print the bench packet: verdict, cautions, parts, the work in order, lugs, tests.

    A sheet is written for a broken wiring too, with that verdict on it.

    \b
    Exit status:
      0  every sheet was written
      2  a spec cannot be read, or a file cannot be written
      3  a limit was reached
    """
    asked = _Asked(**given)
    if asked.log is not None and len(asked.specs) > 1:
        raise click.UsageError("--log is about one SPEC.", ctx)
    places = _places(ctx, asked)
    drawn = (_sheet(file, place, asked) for file, place in places.items())
    made = list(with_progress("drawing", drawn, len(places)))
    if asked.as_json:
        write_documents([document for _, document in made])
    ctx.exit(worst_of(status for status, _ in made))


def _places(ctx: click.Context, asked: _Asked) -> dict[str, Path]:
    """Where each spec's sheet goes; no two to one place, and each of a kind that can be made."""
    output = asked.output
    if output is not None and output.suffix.lower() not in _KINDS:
        said = "a sheet is NAME.pdf for paper or NAME.html for a browser."
        raise click.UsageError(f"{printable(str(output))}: {said}", ctx)
    if output is not None and len(asked.specs) > 1:
        raise click.UsageError("--output names one file: give one SPEC, or leave it out.", ctx)
    places = {
        file: output or Path(f"{stem_with(Path(file).stem, asked.chosen)}.pdf")
        for file in asked.specs
    }
    for place, count in Counter(places.values()).items():
        if count > 1:
            raise click.UsageError(f"{count} sheets would be {place}: give them one by one.", ctx)
    return places


def _sheet(file: str, place: Path, asked: _Asked) -> tuple[int, JSON]:
    """The exit status of one sheet, and its machine output."""
    try:
        packet = _write(file, place, asked)
    except Exception as error:  # noqa: BLE001  what is no trouble is raised again
        trouble = trouble_of(error, file)
        complain(trouble)
        return trouble.status, refused("sheet", file, trouble)
    complain_of(f"{place}: written ({_told(packet)})")
    return 0, _document(file, place, packet)


def _document(file: str, place: Path, packet: Packet) -> JSON:
    verdicts = [
        {"wiring": r.wiring, "role": packet.spec.wirings[r.wiring].role, "verdict": r.verdict}
        for r in packet.results
    ]
    return {**headed("sheet", file), "output": str(place), "results": verdicts}


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
    names = _wirings(spec, asked.wirings)
    results = compare(spec, names)
    packet = packet_of(spec, results, (*names, "original"))
    if asked.log is not None:
        packet = replace(packet, record=record_of(spec, read_bench_log(asked.log, spec)))
    for limit in packet.limits:
        complain_of(f"{file}: not on the sheet: {limit}")
    data = _KINDS[place.suffix.lower()](packet, source, asked)
    write_whole(place, data, asked.force)
    return packet


def _wirings(spec: Spec, names: Sequence[str]) -> tuple[str, ...]:
    """The wirings named, or every one but the original if none is.

    Raises:
        Refused: a name that is no wiring of the spec, or the original's.
    """
    others = [wiring.name for wiring in spec.others]
    if "original" in names:
        message = "'original' is what the others are compared with, and on every sheet beside them"
        raise Refused(Complaint(message, spec.file, hint=known_here(others)))
    known_names("wiring", names, others, spec.file)
    return tuple(dict.fromkeys(names or others))
