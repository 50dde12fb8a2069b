"""What all steps are made from: the two wirings, and what becomes of parts, links and nets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from rewire.bench.moves.adopting import Adopted, adopt
from rewire.bench.moves.groups import Group, Regrouping, groups_of, regrouped, to_join
from rewire.bench.moves.links import links_of
from rewire.bench.moves.matching import Matching, match
from rewire.bench.moves.parts import Turnover, as_it_lies, turnover
from rewire.bench.moves.tags import Tags, tags_of
from rewire.bench.moves.values import fitted
from rewire.spec.model import Spec, Wiring
from rewire.values.lug_volts import LugVolts, lug_volts


@dataclass(frozen=True, slots=True)
class Work:
    """Everything known about the way from one wiring to another."""

    spec: Spec
    source: Wiring
    target: Wiring
    turn: Turnover
    links: Matching
    nets: Regrouping
    adopted: tuple[Adopted, ...]
    """Wires that make a join of ``nets``; not in ``links.out``."""
    joins: tuple[tuple[Group, Group], ...]
    """Places that hang together, and those of the same net that they must be joined to."""
    tags: Tags
    values: Mapping[str, str]
    hot_before: Mapping[str, LugVolts]
    """Place of the first wiring → the volts it can stand at, from 50 V on."""
    hot_after: Mapping[str, LugVolts]


def work_between(spec: Spec, source: Wiring, target: Wiring) -> Work:
    """Compare two wirings as things: what becomes of each part, link and net.

    Raises:
        LimitReached: thousands of wires that all hang on one place.
    """
    turn = turnover(spec, source, target)
    target = as_it_lies(spec, source, target, turn)
    olds, news = links_of(source), links_of(target)
    nets = regrouped(turn, (groups_of(source), groups_of(target)), (olds, news))
    seen, merged = ({id(link) for link in links} for links in (nets.seen, nets.merged))
    links = match(
        turn,
        [link for link in olds if id(link) not in merged],
        [link for link in news if id(link) not in seen],
    )
    adopted, parts = adopt(turn, links.out, nets.parts)
    serving = {id(one.link) for one in adopted}
    links = replace(links, out=tuple(x for x in links.out if id(x) not in serving))
    return Work(
        spec=spec, source=source, target=target, turn=turn, links=links, nets=nets,
        adopted=tuple(adopted), joins=tuple(join for net in parts for join in to_join(net)),
        tags=tags_of(source.name, links.pairs), values=fitted(spec, target),
        hot_before=lug_volts(spec, source), hot_after=lug_volts(spec, target),
    )  # fmt: skip
