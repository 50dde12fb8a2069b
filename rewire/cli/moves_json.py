"""Moves as machine output."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict

from rewire.bench.work_list import Moves
from rewire.cli.as_json import JSON


def moved(file: str, results: Iterable[Moves]) -> JSON:
    """What ``rewire moves`` answers on one spec; lengths are metres, all else is text."""
    head = {"rewire": 1, "command": "moves", "spec": file}
    return {**head, "results": [_moves(result) for result in results]}


def _moves(moves: Moves) -> JSON:
    told = asdict(moves)
    told["live"] = [{**asdict(one.volts), "lugs": one.lugs} for one in moves.live]
    return {"from": told.pop("source"), "to": told.pop("target"), **told}
