"""What docs/ says, held against the program; ``python -m tests.docs`` renews answers there."""
