"""A spec to begin with: ``rewire new``, a starter, or what a sheet was made from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from rewire.bench.starters import FORM, UnfitForm, starter
from rewire.cli.answers import one_wiring, write_documents
from rewire.cli.files import check_free, check_place, write_whole
from rewire.cli.options import file_option, flag_option, json_of_files, one_name, text_option
from rewire.cli.terminal import complain_of, write_out
from rewire.cli.trouble import refusal
from rewire.reading.carried import carried_by
from rewire.reading.text import bytes_of
from rewire.report.machine import document

_STARTER = "swap.yaml"
_LOG = "bench-log.yaml"
_KIND = "meter-switch"
_THEN = {"drawer": "rewire values SPEC --drawer {}", "buzz-out": "rewire identify switch {}"}
"""Files that are not specs → what each is for."""


@click.command("new")
@click.argument(
    "file", required=False, type=click.Path(readable=False, path_type=Path, allow_dash=True)
)
@click.option(
    "--kind",
    type=click.Choice([_KIND, "meter", "jack"]),
    help=f"Write a spec for replacing this. [default: {_KIND}]",
)
@flag_option(
    "--drawer", "Write a drawer: a list of your own parts. As a table if FILE ends with .csv."
)
@flag_option("--buzz-out", "Write a buzz-out, for a switch that nobody knows.")
@text_option(
    "--log", "SPEC", "Write a bench log for SPEC, in which every reading waits to be filled in."
)
@one_name(
    "--wiring",
    "wirings",
    "NAME",
    "With --log: the wiring that is measured. [default: the one that is planned]",
)
@text_option("--title", "TEXT", "Give the spec this title. [default: one to be changed]")
@text_option("--form", "FORM", "Give the meter switch this form, 2P6T say. [default: 3P3T]")
@file_option(
    "--from sheet",
    "SHEET",
    "A PDF or a page that rewire sheet made: take out the spec it was made from, and the bench log "
    "beside it where it has one.",
)
@flag_option(
    "--ask",
    "Ask for the set, the switch and every lug of it in the order of the work, and write the "
    "spec from the answers. Answers are kept beside it (FILE.answers) until it is written.",
)
@file_option(
    "--answers",
    "ANSWERS",
    "Take the answers for --ask from this file, one a line, as far as they go.",
)
@json_of_files
@click.pass_context
def new_command(ctx: click.Context, /, file: Path | None, **given: Any) -> None:
    """Write a starter spec to FILE: an invented set with a comment at every key.

    The starter checks clean and prints as it stands; change it into your own. With --ask it asks
    about your own set and writes the spec from your answers. Nothing is ever overwritten.
    FILE may be - for standard output. [default: swap.yaml, drawer.yaml, buzz-out.yaml or
    bench-log.yaml; with --from the name that the spec had]

    \b
    Exit status:
      0  it was written
      2  FILE is there already, or cannot be written, or no meter switch has that form, or the
         sheet carries no spec
    """
    if given["ask"] or given["answers"]:
        _alone(ctx, "ask", "answers")
        ctx.exit(_interviewed(ctx, file or Path(_STARTER), given["answers"], given["as_json"]))
    told = {}
    if given["log"] is not None:
        _alone(ctx, "log", "wiring")
        file = file or Path(_LOG)
        _write_log(given["log"], given["wiring"], file)
    elif given["sheet"] is not None:
        _alone(ctx, "sheet")
        file = _taken_out(given["sheet"], file)
    else:
        told["kind"] = kind = _kind(ctx)
        file = file or Path(f"{kind}.yaml" if kind in _THEN else _STARTER)
        starter = _starter(kind, file, given["title"], given["form"])
        then = _THEN.get(kind, "rewire check {}").format(file)
        _write(file, starter.encode(), f"change it into your own, then: {then}")
    if given["as_json"] and str(file) != "-":
        write_documents([document("new", output=str(file), **told)])


def _alone(ctx: click.Context, *own: str) -> None:
    """Check that no option is given besides those that go together."""
    options = {param.name: param.opts[0] for param in ctx.command.params if param.name != "as_json"}
    for name, option in options.items():
        if name not in (*own, "file") and name and ctx.params[name]:
            raise click.UsageError(f"{options[own[0]]} does not go with {option}.", ctx)


def _kind(ctx: click.Context) -> str:
    """The kind of starter asked for; refused if two, or if it does not go with what is given."""
    given = ctx.params
    lists = [name for name in ("drawer", "buzz_out") if given[name]]
    if lists:
        _alone(ctx, lists[0], "title")
    kind: str = lists[0].replace("_", "-") if lists else given["kind"] or _KIND
    if given["form"] is not None and kind != _KIND:
        raise click.UsageError(f"--form is for a meter switch; {kind} has none.", ctx)
    if given["wiring"]:
        raise click.UsageError("--wiring goes with --log.", ctx)
    return kind


def _interviewed(ctx: click.Context, file: Path, answers: Path | None, as_json: bool) -> int:
    """Ask, and write the spec; then fit it, if asked to."""
    from rewire.cli.ask import interviewed, kept_beside

    check_free(file)
    check_place(file, force=False)
    told, draft = interviewed(file, answers)
    follows = f"next: rewire check {file}"
    if len(draft.block["wirings"]) == 1:
        follows = f"next: rewire draw {file}"
    fit = draft.fit
    words: list[str] = []
    at_once = fit is not None and fit.at_once and not as_json  # one document, then: not two
    if fit is not None:
        words = [str(file), "--switch", fit.form, "--replace", fit.old, "--timing", fit.timing]
        words += ["--write", "planned"]
        follows = "rewire fit follows" if at_once else f"next: rewire fit {' '.join(words)}"
    _write(file, told.encode(), follows)
    kept_beside(file).unlink(missing_ok=True)
    if as_json:
        write_documents([document("new", output=str(file))])
    if at_once:
        from rewire.cli.fit import fit_command

        return int(fit_command.main(words, standalone_mode=False, parent=ctx) or 0)
    return 0


def _write_log(spec_file: str, name: str | None, file: Path) -> None:
    """Write a log in which nothing is filled in, for the one plan or the wiring that is named."""
    from rewire.bench.record import log_starter
    from rewire.reading import read_spec

    spec = read_spec(spec_file)
    one = one_wiring(spec, [name] if name else [], "a log is of one wiring")
    blank = log_starter(spec, spec.wirings[one], file.name)
    _write(file, blank.encode(), f"fill it in, then: rewire buzz {spec_file} --found {file}")


def _starter(kind: str, file: Path, title: str | None, form: str | None) -> str:
    name = "FILE" if str(file) == "-" else file.name
    try:
        return starter(kind, name, title, FORM if form is None else form)
    except UnfitForm as error:
        raise refusal(f"--form {form}: {error}") from error


def _taken_out(sheet: Path, file: Path | None) -> Path:
    """Write what a sheet carries; both files or neither."""
    carried = carried_by(bytes_of(sheet, "the sheet"))
    if carried is None:
        hint = "only a PDF or a page that rewire sheet made carries one"
        raise refusal("it carries no spec that can be read", str(sheet), hint)
    place = file or Path(Path(carried.name).name or _STARTER)
    log = place.with_name(f"{place.stem}-log.yaml")
    if carried.log is not None and str(place) != "-":
        check_free(log)
    _write(place, carried.spec, f"next: rewire check {place}")
    if carried.log is not None and str(place) != "-":
        _write(log, carried.log, f"next: rewire sheet {place} --log {log}")
    return place


def _write(file: Path, data: bytes, follows: str) -> None:
    """Write a file that is not there yet, and say so; ``-`` is standard output."""
    if str(file) == "-":
        write_out(data.decode("utf-8", "surrogateescape"))
        return
    check_free(file)
    write_whole(file, data, force=False)
    complain_of(f"{file}: written; {follows}")
