"""A spec to begin with: ``rewire new``, a starter, or what a sheet was made from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from rewire.bench.starters import FORM, UnfitForm, starter
from rewire.cli import HELP, json_of_files
from rewire.cli.answers import Complaint, Refused, complain_of, write_documents, write_out
from rewire.cli.files import check_place, write_whole
from rewire.reading.carried import carried_by
from rewire.reading.text import bytes_of
from rewire.report.machine import document

_STARTER = "swap.yaml"
_KIND = "meter-switch"


@click.command(name="new", short_help=HELP["new"])
@click.argument("file", required=False, type=click.Path(path_type=Path, allow_dash=True))
@click.option(
    "--kind", type=click.Choice([_KIND, "meter", "jack"]),
    help=f"Write a spec for replacing this. [default: {_KIND}]",
)  # fmt: skip
@click.option(
    "--title", metavar="TEXT", help="Give the spec this title. [default: one to be changed]"
)
@click.option(
    "--form", metavar="FORM", help="Give the meter switch this form, 2P6T say. [default: 3P3T]"
)
@click.option(
    "--from", "sheet", metavar="SHEET", type=click.Path(path_type=Path),
    help="A PDF or a page that rewire sheet made: take out the spec it was made from, and the "
    "bench log beside it where it has one.",
)  # fmt: skip
@click.option(
    "--ask", "asking", is_flag=True,
    help="Ask for the set, the switch and every lug of it in the order of the work, and write the "
    "spec from the answers. Answers are kept beside it (FILE.answers) until it is written.",
)  # fmt: skip
@click.option(
    "--answers", metavar="ANSWERS", type=click.Path(path_type=Path),
    help="Take the answers for --ask from this file, one a line, as far as they go.",
)  # fmt: skip
@json_of_files
@click.pass_context
def new_command(ctx: click.Context, /, file: Path | None, **given: Any) -> None:
    """Write a starter spec to FILE: an invented set with a comment at every key.

    It checks clean and prints as it stands; change it into your own. Nothing is ever
    overwritten. FILE may be - for standard output. [default: swap.yaml, or with --from the name
    that the spec had]

    \b
    Exit status:
      0  it was written
      2  FILE is there already, or cannot be written, or no meter switch has that form, or the
         sheet carries no spec
    """
    kind, form, sheet = given["kind"], given["form"], given["sheet"]
    if given["asking"] or given["answers"]:
        if kind or form or given["title"] or sheet or str(file) == "-":
            raise click.UsageError("--ask takes FILE and --answers alone, and asks the rest.", ctx)
        file = file or Path(_STARTER)
        ctx.exit(_interviewed(ctx, file, given["answers"], given["as_json"]))
    if sheet is not None:
        if kind or form or given["title"]:
            raise click.UsageError("--kind, --title and --form are for a starter, not --from.", ctx)
        file = _taken_out(sheet, file)
    else:
        if form is not None and kind not in (None, _KIND):
            raise click.UsageError(f"--form is for a meter switch; {kind} has none.", ctx)
        file = file or Path(_STARTER)
        text = _starter(kind or _KIND, file, given["title"], form)
        _write(file, text.encode(), f"change it into your own, then: rewire check {file}")
    if given["as_json"] and str(file) != "-":
        told = {"kind": kind or _KIND} if sheet is None else {}
        write_documents([document("new", output=str(file), **told)])


def _interviewed(ctx: click.Context, file: Path, answers: Path | None, as_json: bool) -> int:
    """Ask, and write what was told; then have it fitted, if that is wished."""
    from rewire.cli.ask import interviewed, kept_beside

    _free(file)
    check_place(file, force=False)
    text, draft = interviewed(file, answers)
    follows = f"next: rewire check {file}"
    if len(draft.block["wirings"]) == 1:
        follows = f"next: rewire draw {file}"
    fit = draft.fit
    words: list[str] = []
    if fit is not None:
        words = [str(file), "--switch", fit.form, "--replace", fit.old, "--timing", fit.timing]
        words += ["--write", "planned"]
        follows = "rewire fit follows" if fit.at_once else f"next: rewire fit {' '.join(words)}"
    _write(file, text.encode(), follows)
    kept_beside(file).unlink(missing_ok=True)
    if as_json:
        write_documents([document("new", output=str(file))])
    if fit is not None and fit.at_once:
        from rewire.cli.fit import fit_command

        return int(fit_command.main(words, standalone_mode=False, parent=ctx) or 0)
    return 0


def _starter(kind: str, file: Path, title: str | None, form: str | None) -> str:
    name = "FILE" if str(file) == "-" else file.name
    try:
        return starter(kind, name, title, FORM if form is None else form)
    except UnfitForm as error:
        raise Refused(Complaint(f"--form {form}: {error}")) from error


def _taken_out(sheet: Path, file: Path | None) -> Path:
    """Write what a sheet carries; both files or neither.

    Raises:
        Refused: it carries nothing, or a file is there already.
    """
    carried = carried_by(bytes_of(sheet, "the sheet"))
    if carried is None:
        hint = "only a PDF or a page that rewire sheet made carries one"
        raise Refused(Complaint("it carries no spec that can be read", str(sheet), hint=hint))
    place = file or Path(Path(carried.name).name or _STARTER)
    log = place.with_name(f"{place.stem}-log.yaml")
    if carried.log is not None and str(place) != "-":
        _free(log)
    _write(place, carried.spec, f"next: rewire check {place}")
    if carried.log is not None and str(place) != "-":
        _write(log, carried.log, f"next: rewire sheet {place} --log {log}")
    return place


def _write(file: Path, data: bytes, follows: str) -> None:
    """Write a file that is not there yet, and say so; ``-`` is standard output."""
    if str(file) == "-":
        write_out(data.decode("utf-8", "surrogateescape"))
        return
    _free(file)
    write_whole(file, data, force=False)
    complain_of(f"{file}: written; {follows}")


def _free(file: Path) -> None:
    """See that nothing is there.

    Raises:
        Refused: a file, or a link, is; not even one of ours is replaced.
    """
    if not file.is_dir() and (file.exists() or file.is_symlink()):
        raise Refused(
            Complaint("not written: a file is there already", str(file), hint="name another")
        )
