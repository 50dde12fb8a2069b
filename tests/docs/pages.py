"""The pages of docs/commands/, one for each command, from the help the command itself gives."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from rewire.cli import rewire
from rewire.cli.commands import HELP

ROOT = Path(__file__).parents[2]
PAGES = ROOT / "docs" / "commands"
HOW = "run `make docs` and commit docs/commands/"
_WIDTH = 88
_MADE = (
    "<!-- Written by `make docs` from the program's own help. Change the help, not this page. -->"
)


def help_of(command: click.Command, parent: click.Context, name: str) -> Iterator[tuple[str, str]]:
    """(full name, help) of a command and of the commands under it."""
    # max_content_width alone would follow the terminal; terminal_width does not.
    context = click.Context(
        command,
        info_name=name,
        parent=parent,
        terminal_width=_WIDTH,
        help_option_names=["-h", "--help"],
    )
    yield context.command_path, command.get_help(context)
    if isinstance(command, click.Group):
        for below in command.list_commands(context):
            found = command.get_command(context, below)
            if found is not None:
                yield from help_of(found, context, below)


def page(name: str) -> str:
    """The page of one command."""
    top = click.Context(rewire, info_name="rewire")
    command = rewire.get_command(top, name)
    if command is None:
        raise LookupError(name)
    told = [_MADE, "", f"# rewire {name}", "", HELP[name], ""]
    for path, text in help_of(command, top, name):
        if path != f"rewire {name}":
            told += [f"## {path}", ""]
        told += ["```text", *(line.rstrip() for line in text.splitlines()), "```", ""]
    return "\n".join([*told, "[All commands](README.md)"]) + "\n"


def index() -> str:
    """The page that lists the commands."""
    rows = [f"| [rewire {name}]({name}.md) | {line} |" for name, line in HELP.items()]
    return (
        "\n".join([_MADE, "", "# Commands", "", "| command | answers |", "| --- | --- |", *rows])
        + "\n"
    )


def pages() -> dict[str, str]:
    """Name of a file in docs/commands/ → what it must hold."""
    return {"README.md": index(), **{f"{name}.md": page(name) for name in HELP}}
