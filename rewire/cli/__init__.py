"""The command line: ``rewire COMMAND``.

Each command is a thin room of this package, opened when it is called, so that
``rewire --help`` and shell completion answer at once.
"""

from __future__ import annotations

import gc
import sys
import traceback

import click

from rewire.cli.answers import BAD_INPUT, Complaint
from rewire.cli.commands import INTERRUPTED, OUR_FAULT, READER_GONE, Commands
from rewire.cli.terminal import careful_streams, complain_of, hush_stdout, open_streams


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
    open_streams()
    careful_streams()
    try:
        rewire(prog_name="rewire")
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        hush_stdout()
        sys.exit(READER_GONE)
    except OSError as error:
        # Commands answer for their own; what is left is the help, on a disk that is full.
        hush_stdout()
        complain_of(str(Complaint(error.strerror or str(error), "standard output")))
        sys.exit(BAD_INPUT)
    except Exception:  # noqa: BLE001  a status of its own, and the traceback all the same
        # Not 1: that is the answer on a wiring. The traceback is for whoever mends the program.
        traceback.print_exc()
        sys.exit(OUR_FAULT)
    finally:
        # The process ends here: do not search all it holds for garbage on the way out.
        gc.freeze()
