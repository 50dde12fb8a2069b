"""How fast, on this machine. `make bench` runs these; `make test` does not."""
