"""A spec to begin with: ``rewire new``, a starter, or what a sheet was made from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from rewire.bench.starters import FORM, UnfitForm, starter
from rewire.cli import HELP, json_of_files
from rewire.cli.answers import (
    Complaint,
    Refused,
    complain_of,
    wirings_judged,
    write_documents,
    write_out,
)
from rewire.cli.completion import names_of
from rewire.cli.files import check_place, write_whole
from rewire.reading.carried import carried_by
from rewire.reading.text import bytes_of
from rewire.report.machine import document

_STARTER = "swap.yaml"
_LOG = "bench-log.yaml"
_KIND = "meter-switch"
_THEN = {"drawer": "rewire values SPEC --drawer {}", "buzz-out": "rewire identify switch {}"}
"""What is no spec → what it is for."""
_OPTIONS = (
    "kind", "drawer", "buzz_out", "log", "wiring", "title", "form", "sheet", "asking", "answers",
)  # fmt: skip


@click.command(name="new", short_help=HELP["new"])
@click.argument("file", required=False, type=click.Path(path_type=Path, allow_dash=True))
@click.option(
    "--kind", type=click.Choice([_KIND, "meter", "jack"]),
    help=f"Write a spec for replacing this. [default: {_KIND}]",
)  # fmt: skip
@click.option(
    "--drawer",
    is_flag=True,
    help="Write a drawer: a list of your own parts. As a table if FILE ends with .csv.",
)
@click.option(
    "--buzz-out",
    is_flag=True,
    help="Write a buzz-out, for a switch that nobody knows.",
)
@click.option(
    "--log",
    metavar="SPEC",
    type=click.Path(),
    help="Write a bench log for SPEC, in which every reading waits to be filled in.",
)
@click.option(
    "--wiring",
    metavar="NAME",
    shell_complete=names_of("wirings"),
    help="With --log: the wiring that is measured. [default: the one that is planned]",
)
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
    if given["asking"] or given["answers"]:
        _alone(ctx, given, "asking", "answers")
        file = file or Path(_STARTER)
        ctx.exit(_interviewed(ctx, file, given["answers"], given["as_json"]))
    told = {}
    if given["log"] is not None:
        _alone(ctx, given, "log", "wiring")
        file = file or Path(_LOG)
        _write_log(given["log"], given["wiring"], file)
    elif given["sheet"] is not None:
        _alone(ctx, given, "sheet")
        file = _taken_out(given["sheet"], file)
    else:
        told["kind"] = kind = _kind(ctx, given)
        file = file or Path(f"{kind}.yaml" if kind in _THEN else _STARTER)
        text = _starter(kind, file, given["title"], given["form"])
        then = _THEN.get(kind, "rewire check {}").format(file)
        _write(file, text.encode(), f"change it into your own, then: {then}")
    if given["as_json"] and str(file) != "-":
        write_documents([document("new", output=str(file), **told)])


def _alone(ctx: click.Context, given: Mapping[str, Any], *own: str) -> None:
    """See that no option is given beside those that go together.

    Raises:
        click.UsageError: one is.
    """
    words = {"sheet": "from", "asking": "ask", "buzz_out": "buzz-out"}
    strange = [key for key in _OPTIONS if given[key] and key not in own]
    if strange:
        one, other = (words.get(key, key) for key in (own[0], strange[0]))
        raise click.UsageError(f"--{one} does not go with --{other}.", ctx)


def _kind(ctx: click.Context, given: Mapping[str, Any]) -> str:
    """What a starter is to be of.

    Raises:
        click.UsageError: of two things at once, or of one that the other options are not for.
    """
    lists = [name for name in _THEN if given[name.replace("-", "_")]]
    kind: str = lists[0] if lists else given["kind"] or _KIND
    if lists:
        _alone(ctx, given, kind.replace("-", "_"), "title")
    if given["form"] is not None and kind != _KIND:
        raise click.UsageError(f"--form is for a meter switch; {kind} has none.", ctx)
    if given["wiring"]:
        raise click.UsageError("--wiring goes with --log.", ctx)
    return kind


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
    at_once = fit is not None and fit.at_once and not as_json  # one document, then: not two
    if fit is not None:
        words = [str(file), "--switch", fit.form, "--replace", fit.old, "--timing", fit.timing]
        words += ["--write", "planned"]
        follows = "rewire fit follows" if at_once else f"next: rewire fit {' '.join(words)}"
    _write(file, text.encode(), follows)
    kept_beside(file).unlink(missing_ok=True)
    if as_json:
        write_documents([document("new", output=str(file))])
    if at_once:
        from rewire.cli.fit import fit_command

        return int(fit_command.main(words, standalone_mode=False, parent=ctx) or 0)
    return 0


def _write_log(spec_file: str, name: str | None, file: Path) -> None:
    """Write a log in which nothing is filled in, for the one plan or the wiring that is named.

    Raises:
        Refused: it is not clear which wiring, or there is none of that name.
    """
    from rewire.bench.record import log_starter
    from rewire.reading import read_spec

    spec = read_spec(spec_file)
    judged = wirings_judged(spec, [name] if name else [])
    if len(judged.names) > 1 and len(judged.counting) != 1:
        hint = f"name one: --wiring {judged.names[0]}"
        raise Refused(Complaint("a log is of one wiring", spec_file, hint=hint))
    one = judged.names[0] if len(judged.names) == 1 else next(iter(judged.counting))
    text = log_starter(spec, spec.wirings[one], file.name)
    _write(file, text.encode(), f"fill it in, then: rewire buzz {spec_file} --found {file}")


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
