"""The command line: ``rewire COMMAND``.

Each command is held by a room of this package, opened when it is called, so that
``rewire --help`` and shell completion answer at once.
"""

from __future__ import annotations

import gc
import importlib
import sys
import traceback

import click

from rewire.cli.terminal import hush_stdout, open_streams
from rewire.cli.trouble import trouble_of
from rewire.words.wording import nearest, shown

HELP = {
    "check": "Does the wiring keep every original connection, at rest and while switching?",
    "values": "What must the shunts, multipliers and pots be, and what do they stand?",
    "draw": "Draw the card: the whole swap on one page; other pictures with --view.",
    "moves": "From one wiring to another: what to lift, move, add and remove, in order.",
    "buzz": "What must an ohmmeter find; and with readings, which mistake explains them?",
    "identify": "Which switch is this, what meter is this?",
    "fit": "Wire the function to the switch you have, or learn why it cannot be done.",
    "sheet": "Print the bench packet as a PDF, or make a page (HTML) that turns the switches.",
    "watch": "Show the page in your browser, drawn anew at each save of the spec.",
    "new": "Write a commented starter spec; or take the spec out of a sheet.",
    "shunt": "Quick sum: the shunt for a meter and a current, or a shunt with taps.",
    "multiplier": "Quick sum: the multiplier for a meter and a voltage.",
    "schema": "Print the JSON Schema of specs, for editors.",
}
"""Command → its line in the list. A room of this package holds it under its name."""
ROOMS = {"shunt": "sums", "multiplier": "sums", "schema": "check"}
"""Command → its room, where that is not called like it."""

_EXAMPLES = {
    "SPEC": "Name a spec: swap.yaml, say. rewire new writes one to begin with.",
    "SPEC...": "Name a spec: swap.yaml, say. rewire new writes one to begin with.",
    "BUZZOUT": "Name the file of a buzz-out. rewire new --buzz-out writes one to begin with.",
    "AMPS...": 'Write the currents at full scale: "100 mA", say.',
    "VOLTS...": 'Write the volts at full scale: "250 V", say.',
    "meter": 'Write the meter\'s full scale: --meter "1 mA", say.',
    "resistance": 'Write the ohms of the meter\'s coil: --resistance "100 ohm", say. '
    "rewire identify meter tells how to measure them.",
}
"""What is missing on the command line → what to write."""

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
        room = importlib.import_module(f"rewire.cli.{ROOMS.get(cmd_name, cmd_name)}")
        found: click.Command = getattr(room, f"{cmd_name}_command")
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that ``args`` begin with; an unknown one is refused with the nearest."""
        if args[0] not in HELP and not ctx.resilient_parsing:
            close = nearest(args[0], HELP)
            hint = f"Did you mean {close}?" if close else f"There are: {', '.join(HELP)}."
            raise click.UsageError(f"No such command: {shown(args[0])}. {hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list for ``--help``, without importing any command."""
        with formatter.section("Commands"):
            formatter.write_dl(list(HELP.items()))

    def invoke(self, ctx: click.Context) -> object:
        """Run a command; what the user can mend becomes a message, never a traceback."""
        try:
            return super().invoke(ctx)
        except click.MissingParameter as error:
            example = _EXAMPLES.get(error.param.human_readable_name if error.param else "")
            raise click.MissingParameter(example, error.ctx, error.param) from None
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except KeyboardInterrupt:
            ctx.exit(INTERRUPTED)
        except BrokenPipeError:
            hush_stdout()
            ctx.exit(READER_GONE)
        except Exception as error:  # noqa: BLE001  what is no trouble is raised again
            trouble = trouble_of(error)
            trouble.tell()
            ctx.exit(trouble.status)


@click.group(cls=Commands, name="rewire", context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="rewire", message="rewire %(version)s")
def rewire() -> None:
    """Swap a switch or a meter in old equipment and keep every connection it made.

    \b
    Exit status:
      0  good
      1  the answer is bad (a plan is broken)
      2  the input is bad
      3  not settled: a limit was reached, or something that is not known decides
      70 a fault of the program
    """


def main() -> None:
    """What the ``rewire`` program runs."""
    # Hardly anything of a run is garbage: a twentieth of its time went into looking for some.
    gc.set_threshold(50_000)
    open_streams()
    try:
        rewire(prog_name="rewire")
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        hush_stdout()
        sys.exit(READER_GONE)
    except OSError as error:
        # Commands report their own errors; what is left is the help on a full disk.
        hush_stdout()
        trouble = trouble_of(error, "standard output")
        trouble.tell()
        sys.exit(trouble.status)
    except Exception:  # noqa: BLE001  a status of its own, and the traceback all the same
        # Not 1: that is an answer about a wiring. The traceback helps to mend the program.
        traceback.print_exc()
        sys.exit(OUR_FAULT)
    finally:
        # The process ends here: skip the last garbage collection.
        gc.freeze()
