"""``python -m rewire``: the command line without its installed name."""

import os
import sys

# `python -m` looks for every module in the current folder first: what a stranger left there beside
# a spec, a yaml.py say, would run. This package has been found; its folder may stay, as the last.
if not sys.flags.safe_path and sys.path[0] in ("", os.getcwd()):  # noqa: PTH109  pathlib is such a module
    sys.path.append(sys.path.pop(0))

from rewire.cli import main

main()
