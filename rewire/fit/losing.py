"""When nothing fits: the landing that loses least, so that one knows what would have to go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rewire.compare import Result
from rewire.compare.comparing import compare_wiring
from rewire.fit.build import plan_of, wiring_of
from rewire.fit.clauses import Literal
from rewire.fit.encode import Board, Paint, Reach
from rewire.fit.engine import Clock, Engine, OutOfTime, Price
from rewire.fit.landing import Landing
from rewire.fit.offers import Detents, Offer
from rewire.fit.search import Search, Task


@dataclass(frozen=True)
class Loss:
    """The best attempt where nothing fits."""

    landing: Landing
    result: Result
    ties: int
    """Connections lost, counted once per position; no attempt loses fewer. 0 if all that is
    lost is lost on the way."""


def least_loss(
    task: Task, offer: Offer, ways: Sequence[Detents], clock: Clock | None = None
) -> Loss | None:
    """The landing that gives up the fewest connections; None if the detents are too few.

    What must be apart stays apart: a connection can be missed, a wrong one can kill.
    """
    if not ways:
        return None
    search = Search(task, offer, ways, False, clock or Clock())
    prices = _ask_loosely(search)
    with Engine(search.board, search.clock) as engine:
        lost = Price(engine, prices)
        try:
            ties = lost.least([])
            under = lost.at_most(ties)
            engine.solve(under)
            landing = search.polish(engine, search.board.read(engine.model()), under)
        except OutOfTime:
            return None
    plan = plan_of(task.bare, search.board.offer, landing, "new")
    result = compare_wiring(task.spec, wiring_of(task.bare, plan, "fit"))
    return Loss(landing, result, ties)


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
