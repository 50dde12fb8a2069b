"""What of one wiring serves in another: parts, wires and nets."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rewire.bench.moves.adopting import Adopted, adopt
from rewire.bench.moves.groups import Group, Regrouping, groups_of, regrouped
from rewire.bench.moves.links import links_of
from rewire.bench.moves.matching import Matching, match
from rewire.bench.moves.parts import Turnover, as_it_lies, turnover
from rewire.records.spec import CUT, Spec, Wiring


@dataclass(frozen=True, slots=True)
class Reuse:
    """What becomes of the things of a wiring."""

    turn: Turnover
    target: Wiring
    """The second wiring, with parts that have no right way round as they lie."""
    links: Matching
    nets: Regrouping
    adopted: tuple[Adopted, ...]
    """Wires that make a join of ``nets``; not in ``links.out``."""
    parts: tuple[tuple[Group, ...], ...]
    """Per net of the second wiring, the places that hang together before anything is joined."""


def reuse_between(spec: Spec, source: Wiring, target: Wiring) -> Reuse:
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
    links = replace(
        links,
        out=tuple(x for x in links.out if id(x) not in serving),
        # nobody lands a wire that ends in the air
        into=tuple(x for x in links.into if CUT not in x.ends),
    )
    return Reuse(turn, target, links, nets, tuple(adopted), tuple(map(tuple, parts)))
