"""``rewire new``: a commented starter spec; ``rewire schema``: what an editor checks it by."""

from __future__ import annotations

import json
from pathlib import Path

import click

from rewire.cli.answers import Complaint, Refused
from rewire.cli.commands import HELP, json_of_files
from rewire.cli.files import write_whole
from rewire.cli.terminal import complain_of, write_out

_DEFAULT = "swap.yaml"


@click.command(name="new", short_help=HELP["new"])
@click.argument("file", default=_DEFAULT, type=click.Path(path_type=Path, allow_dash=True))
@click.option(
    "--kind",
    type=click.Choice(["meter-switch", "meter", "jack"]),
    default="meter-switch",
    show_default=True,
    help="What is replaced.",
)
@click.option("--title", metavar="TEXT", help="Title of the spec. [default: one to be changed]")
@click.option(
    "--form",
    metavar="FORM",
    help="Poles and throws of the meter switch, 2P6T say. [default: 3P3T]",
)
@json_of_files
@click.pass_context
def new(
    ctx: click.Context, file: Path, kind: str, title: str | None, form: str | None, as_json: bool
) -> None:
    """Write a starter spec to FILE: an invented set with a comment at every key.

    It checks clean and prints as it stands; change it into your own. Nothing is ever
    overwritten. FILE may be - for standard output. [default: swap.yaml]

    \b
    Exit status:
      0  it was written
      2  FILE is there already, or cannot be written, or no meter switch has that form
    """
    if form is not None and kind != "meter-switch":
        raise click.UsageError(f"--form is for a meter switch; {kind} has none.", ctx)
    text = _text(kind, file, title, form)
    if str(file) == "-":
        write_out(text)
        return
    _check_free(file)
    write_whole(file, text.encode(), force=False)
    complain_of(f"{file}: written; change it into your own, then: rewire check {file}")
    if as_json:
        from rewire.report.machine import dumped

        document = {"rewire": 1, "command": "new", "output": str(file), "kind": kind}
        write_out(dumped(document))


def _text(kind: str, file: Path, title: str | None, form: str | None) -> str:
    from rewire.bench.starters import FORM, UnfitForm, starter

    name = "FILE" if str(file) == "-" else file.name
    try:
        return starter(kind, name, title, FORM if form is None else form)
    except UnfitForm as error:
        raise Refused(Complaint(f"--form {form}: {error}")) from error


def _check_free(file: Path) -> None:
    """A starter never replaces a file, not even one of ours."""
    if file.is_dir() or not (file.exists() or file.is_symlink()):
        return
    raise Refused(Complaint("not written: a file is there already", str(file), hint="name another"))


@click.command(name="schema", short_help=HELP["schema"])
def schema() -> None:
    """Print the JSON Schema of specs, with which an editor completes and checks a spec."""
    from rewire.reading import json_schema

    write_out(json.dumps(json_schema(), indent=2) + "\n")
