"""``rewire schema``: the JSON Schema of specs."""

from __future__ import annotations

import json

import click

from rewire.cli.commands import HELP
from rewire.cli.terminal import write_out


@click.command(name="schema", short_help=HELP["schema"])
def command() -> None:
    """Print the JSON Schema of specs, with which an editor completes and checks a spec."""
    from rewire.reading import json_schema

    write_out(json.dumps(json_schema(), indent=2) + "\n")
