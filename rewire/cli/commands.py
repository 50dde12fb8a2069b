"""The list of commands, and the one place where what goes wrong becomes an exit status."""

from __future__ import annotations

import difflib
import importlib
import typing

import click

from rewire.cli.terminal import ReaderGone, complain, hush_stdout, visible
from rewire.cli.trouble import trouble_of

HELP = {
    "check": "Does the wiring keep every original connection, at rest and while switching?",
    "values": "What must the shunts, multipliers and pots be, and what do they stand?",
    "draw": "Draw the pictures: the switch from behind with every wire on its lug.",
    "moves": "From one wiring to another: what to lift, move, add and remove, in order.",
    "buzz": "What must an ohmmeter find; and with readings, which mistake explains them?",
    "identify": "Which switch is this, what meter is this?",
    "fit": "Land the function on the switch you have, or learn why it cannot be done.",
    "sheet": "Print the bench sheet.",
    "new": "Write a commented starter spec.",
    "shunt": "Quick sum: the shunt for a meter and a current, or a shunt with taps.",
    "multiplier": "Quick sum: the multiplier for a meter and a voltage.",
    "schema": "Print the JSON Schema of specs, for editors.",
}
"""Command → its line in the list. The room ``rewire.cli.NAME`` holds it as ``command``."""

INTERRUPTED = 130
READER_GONE = 141
"""As a shell reports a program that SIGINT or SIGPIPE ended."""
OUR_FAULT = 70
"""EX_SOFTWARE of sysexits.h: an internal fault."""


class Commands(click.Group):
    """A group whose commands are imported when they are called, not before."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the table above."""
        return list(HELP)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; None for an unknown name."""
        if cmd_name not in HELP:
            return None
        room = importlib.import_module(f"rewire.cli.{cmd_name}")
        return typing.cast(click.Command, room.command)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that ``args`` begin with; an unknown one is refused with the nearest."""
        if args[0] not in HELP and not ctx.resilient_parsing:
            close = difflib.get_close_matches(args[0], HELP, 1)
            hint = f"Did you mean {close[0]}?" if close else f"There are: {', '.join(HELP)}."
            raise click.UsageError(f"No such command: {visible(args[0])}. {hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list for ``--help``, without importing any command."""
        with formatter.section("Commands"):
            formatter.write_dl(list(HELP.items()))

    def invoke(self, ctx: click.Context) -> object:
        """Run a command; what the user can mend becomes a message, never a traceback."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except KeyboardInterrupt:
            ctx.exit(INTERRUPTED)
        except (ReaderGone, BrokenPipeError):
            hush_stdout()
            ctx.exit(READER_GONE)
        except Exception as error:
            trouble = trouble_of(error)
            if trouble is None:
                raise
            complain(trouble)
            ctx.exit(trouble.status)
