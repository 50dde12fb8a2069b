"""The wheel: what is in it, and that it runs where the repository is not."""
