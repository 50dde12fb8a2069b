"""Work at the bench: what to lift, move, add and remove to get from one wiring to another."""
