"""When nothing fits: the landing that loses least, so that one knows what would have to go."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from rewire.compare import Result
from rewire.compare.comparing import compare_wiring
from rewire.fit.build import plan_of, wiring_of
from rewire.fit.clauses import Literal
from rewire.fit.clock import Clock, OutOfTime
from rewire.fit.encode import Board, Paint, Reach
from rewire.fit.engine import Engine, Price
from rewire.fit.landing import Landing
from rewire.fit.offers import Detents, Offer
from rewire.fit.search import Search, Task


@dataclass(frozen=True)
class Loss:
    """The best attempt where nothing fits."""

    landing: Landing
    result: Result
    ties: int
    """Connections lost, counted once per position. 0 if all that is lost is lost on the way."""
    proven: bool
    """No attempt loses fewer; False where the time ran out before that was known."""


def least_loss(
    task: Task, offer: Offer, ways: Sequence[Detents], clock: Clock | None = None
) -> Loss | None:
    """The landing that gives up the fewest connections, as far as the clock allows.

    What must be apart stays apart: a connection can be missed, a wrong one can kill.

    Returns:
        None if the detents are too few, or the clock ran out before there was any landing.
    """
    if not ways:
        return None
    found = None
    with suppress(OutOfTime):
        search = Search(task, offer, ways, False, clock or Clock())
        prices = _ask_loosely(search)
        with Engine(search.board, search.clock) as engine:
            found = _cheapest(search, engine, Price(engine, prices))
    if found is None:
        return None
    landing, ties, proven = found
    plan = plan_of(task.bare, search.board.offer, landing, "new")
    result = compare_wiring(task.spec, wiring_of(task.bare, plan, "fit"))
    return Loss(landing, result, ties, proven)


def _cheapest(search: Search, engine: Engine, price: Price) -> tuple[Landing, int, bool] | None:
    """Landing after landing, each for less, until there is none or the time is out."""
    landing, count, proven = None, max(len(price.literals), 1), False
    with suppress(OutOfTime):
        while count and engine.solve(price.at_most(count - 1) if landing else []):
            model = engine.model()
            landing, count = search.board.read(model), price.of(model)
        proven = True
    if landing is None:
        return None
    with suppress(OutOfTime):
        landing = search.polish(engine, landing, price.at_most(count))
    return landing, count, proven


def _ask_loosely(search: Search) -> list[Literal]:
    """Put the ties at rest to the solver, each at a price; the prices."""
    board: Board = search.board
    prices: list[Literal] = []
    for position, demand in enumerate(search.task.demands):
        if demand is None:
            continue
        closed = list(board.at_detent(position))
        Paint(board, closed).apart(demand.may)
        most = len(closed) // len(board.way) + min(len(board.absorbed), board.stubs)
        for wanted in demand.wanted:
            reach = Reach(board, closed, wanted.given, most)
            prices += reach.tied(wanted.goals(), loose=True)
    return prices
