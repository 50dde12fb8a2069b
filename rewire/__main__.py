"""``python -m rewire``: the command line without its installed name."""

from rewire.cli import main

main()
