"""The plugin of mutation runs is collected like any file, and must then change nothing."""

from __future__ import annotations

import subprocess
import sys

LOOKED = """
import resource
import rewire.reading
from tests.reference import oracle, strategies

def now():
    limits = resource.getrlimit(resource.RLIMIT_AS)
    return limits, rewire.reading.read_text, strategies.random_spec, oracle.judge, oracle.facts

before = now()
import tests.mutants.plugin
assert now() == before
tests.mutants.plugin.pytest_configure()
assert all(one != other for one, other in zip(now(), before))
"""


def test_the_plugin_alone_changes_something() -> None:
    subprocess.run([sys.executable, "-c", LOOKED], check=True)
