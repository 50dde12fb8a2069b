"""What docs/ says, held against the program. ``python -m tests.docs`` writes docs/commands/."""
