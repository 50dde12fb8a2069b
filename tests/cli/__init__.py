"""The command line: what it prints, what it writes, and how it ends."""
