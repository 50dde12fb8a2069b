"""matplotlib, imported with the settings that it ships and no others.

While it is imported it reads a ``matplotlibrc`` in the current folder, which may be a stranger's,
who could hang or end the program by it, or speak to the terminal; else the user's own. Pictures
shall be the same everywhere, so neither is wanted.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path


@contextmanager
def _in_its_own_folder() -> Iterator[None]:
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        yield  # the import will say so
        return
    try:
        here = Path.cwd()
    except FileNotFoundError:  # a folder that is gone holds no settings
        yield
        return
    os.chdir(Path(found.origin).parent / "mpl-data")
    try:
        yield
    finally:
        os.chdir(here)


with _in_its_own_folder():
    import matplotlib

__all__ = ["matplotlib"]
