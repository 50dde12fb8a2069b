"""What all steps are made from: the two wirings, and what becomes of parts, links and nets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rewire.bench.moves.groups import Regrouping, groups_of, regrouped
from rewire.bench.moves.heat import hot_places
from rewire.bench.moves.links import links_of
from rewire.bench.moves.matching import Matching, match
from rewire.bench.moves.parts import Turnover, turnover
from rewire.bench.moves.values import fitted
from rewire.spec.model import Spec, Wiring


@dataclass(frozen=True, slots=True)
class Work:
    """Everything known about the way from one wiring to another."""

    spec: Spec
    source: Wiring
    target: Wiring
    turn: Turnover
    links: Matching
    nets: Regrouping
    values: Mapping[str, str]
    hot_before: Mapping[str, str]
    """Place of the first wiring → its caution."""
    hot_after: Mapping[str, str]


def work_between(spec: Spec, source: Wiring, target: Wiring) -> Work:
    """Compare two wirings as things: what becomes of each part, link and net.

    Raises:
        LimitReached: thousands of wires that all hang on one place.
    """
    turn = turnover(spec, source, target)
    olds, news = links_of(source), links_of(target)
    nets = regrouped(turn, (groups_of(source), groups_of(target)), (olds, news))
    seen, merged = ({id(link) for link in links} for links in (nets.seen, nets.merged))
    links = match(
        turn,
        [link for link in olds if id(link) not in merged],
        [link for link in news if id(link) not in seen],
    )
    return Work(
        spec=spec, source=source, target=target, turn=turn, links=links, nets=nets,
        values=fitted(spec, target),
        hot_before=hot_places(spec, source), hot_after=hot_places(spec, target),
    )  # fmt: skip
