"""Every way that a finding tells can be followed with a finger, and none is shorter.

Followed through the plain mapping of the spec by the reference's own reading of it; the shortest
ways by networkx.
"""

from __future__ import annotations

import copy
import json
import random
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from itertools import combinations, pairwise, product
from pathlib import Path
from typing import Any

import networkx as nx
import pytest

from rewire.compare.findings import Finding, State, Step
from tests.reference.circuit import Circuit, Contacts, joins_of, kind_of
from tests.reference.compare import full_states, run_program
from tests.reference.meant import as_groups
from tests.reference.oracle import compared
from tests.reference.rest import closed_in
from tests.reference.strategies import random_spec
from tests.reference.view import View, added_parts

SEEDS = range(8)
CASES = Path(__file__).parents[1] / "conformance" / "cases.json"
WIRE = re.compile(r"(wire|jumper) .+")


def drawn(seed: int) -> dict[str, Any]:
    """A random spec without rules or declarations."""
    spec = copy.deepcopy(random_spec(random.Random(seed), size=1))
    spec.pop("rules", None)
    spec["wirings"]["substitute"].pop("changes", None)
    return spec


def against_itself(seed: int) -> dict[str, Any]:
    """The original of such a spec, twice."""
    spec = drawn(seed)
    spec["wirings"]["substitute"] = copy.deepcopy(spec["wirings"]["original"])
    return spec


def timed(seed: int, here: str, there: str) -> dict[str, Any]:
    """An original twice, its switches of one timing in one wiring, of another in the other."""
    spec = against_itself(seed)
    for wiring, timing in (("original", here), ("substitute", there)):
        for part in spec["wirings"][wiring]["parts"].values():
            if "switch" in part:
                part["timing"] = timing
    return spec


def padded(seed: int) -> dict[str, Any]:
    """An original twice, with a resistor put into up to three wires of the substitute."""
    spec, rng = against_itself(seed), random.Random(seed)
    wiring = spec["wirings"]["substitute"]
    wires = wiring.setdefault("wires", [])
    for number in range(min(3, len(wires))):
        wire = wires.pop(rng.randrange(len(wires)))
        a, b = (wire["from"], wire["to"]) if isinstance(wire, dict) else wire[:2]
        wiring["parts"][f"Z{number}"] = {"resistor": "7 ohm"}
        wires += [[a, f"Z{number}.1"], [f"Z{number}.2", b]]
    return spec


def every_spec() -> Iterator[dict[str, Any]]:
    yield from (case["spec"] for case in json.loads(CASES.read_text(encoding="utf-8")))
    for seed in SEEDS:
        yield drawn(seed)
        yield timed(seed, "shorting", "non-shorting")
        yield timed(seed, "non-shorting", "shorting")
        yield padded(seed)


class Told:
    """One finding, with the two wirings as they are compared."""

    def __init__(self, spec: dict[str, Any], finding: Finding, here: View, there: View) -> None:
        self.spec, self.finding, self.here, self.there = spec, finding, here, there

    @property
    def first(self) -> State:
        """The state of the original that the finding tells."""
        return self.finding.was_in or self.finding.states[0]

    def ends(self, view: View) -> tuple[set[str], set[str]]:
        """Terminals of the first group and of the second in one of the wirings."""
        groups = self.finding.groups
        named = [{t for t, n in view.name_of.items() if n in group} for group in groups]
        return named[0], named[1]


def every_finding() -> Iterator[Told]:
    for spec in every_spec():
        here, there, _ = compared(spec, "substitute")
        for finding in run_program(spec).findings:
            yield Told(spec, finding, here, there)


@pytest.fixture(scope="module", name="told_of")
def fixture_told_of() -> Callable[..., list[Told]]:
    """Findings by kind; none is a fault of this test."""
    every = list(every_finding())

    def of_kind(*kinds: str) -> list[Told]:
        found = [one for one in every if one.finding.kind in kinds]
        assert found, kinds
        return found

    return of_kind


def closed_at(circuit: Circuit, state: State) -> Contacts:
    """What is closed whatever the controls do that a state does not name."""
    at = state.as_dict()
    known = [section for section in circuit.sections if section.control in at]
    return frozenset().union(*(section.closed[at[section.control]] for section in known))


def passed_over(circuit: Circuit, step: Step) -> Contacts:
    """What is closed for a moment at the throws that wipers pass over."""
    before, after = step.before.as_dict(), step.after.as_dict()
    (control,) = (name for name, at in before.items() if after[name] != at)
    passed = [
        throw
        for section in circuit.sections
        if section.control == control
        for throw in section.passed[before[control], after[control]]
    ]
    return frozenset().union(*passed)


def joints(
    spec: Mapping[str, Any], wiring: str, circuit: Circuit, closed: Contacts, parts: Collection[str]
) -> list[tuple[frozenset[str], str | None]]:
    """Everything that joins terminals in a state, and the part that does if it is one."""
    joined = joins_of(circuit.parts, spec["wirings"][wiring])
    found: list[tuple[frozenset[str], str | None]] = [(frozenset(j), None) for j in joined]
    found += [(group, None) for group in closed]
    for name in parts:
        if circuit.dc_links([name]):
            found.append((frozenset(circuit.terminals[name]), name))
    return found


def follow(way: Sequence[str], steps: Sequence[tuple[frozenset[str], str | None]]) -> int | None:
    """Parts gone through on a way, None where it cannot be followed."""
    gone = 0
    for here, there in pairwise(way):
        through = [part for members, part in steps if {here, there} <= members]
        if not through:
            return None
        gone += None not in through
    return gone


def shortest(
    starts: Collection[str],
    ends: Collection[str],
    steps: Sequence[tuple[frozenset[str], str | None]],
    step: int = 1,
    part: int = 1,
) -> float | None:
    """Length of a shortest way, a part weighing so much and any other step so much."""
    graph: nx.Graph[Any] = nx.Graph()
    graph.add_nodes_from(["start", "end", *starts, *ends])
    for number, (members, name) in enumerate(steps):
        for member in members:
            graph.add_edge(member, number, weight=(step if name is None else part) / 2)
    for start in starts:
        graph.add_edge("start", start, weight=0)
    for end in ends:
        graph.add_edge(end, "end", weight=0)
    if not nx.has_path(graph, "start", "end"):
        return None
    return float(nx.shortest_path_length(graph, "start", "end", weight="weight"))


def ways_in(text: str) -> list[list[str]]:
    """The ways that a text tells, terminal by terminal; where each holds is left aside."""
    ways = [phrase.rpartition(": ")[2] for phrase in re.split(r" \| ", text)]
    told = [way.split(" – ") for way in ways if " – " in way]
    return [[word for word in way if not WIRE.fullmatch(word)] for way in told]


def test_the_way_as_it_was_was_there_and_none_was_shorter(
    told_of: Callable[..., list[Told]],
) -> None:
    """In the original, over wires and contacts alone, in the first state of the finding."""
    followed = 0
    for told in told_of("dropped", "inserted"):
        finding = told.finding
        closed = closed_at(told.here.circuit, told.first)
        steps = joints(told.spec, "original", told.here.circuit, closed, ())
        starts, ends = told.ends(told.here)
        length = shortest(starts, ends, steps)
        assert bool(finding.was) == (length is not None)
        if finding.was:
            assert finding.was[0] in starts
            assert finding.was[-1] in ends
            assert follow(finding.was, steps) == 0
            assert len(finding.was) - 1 == length
            followed += 1
    assert followed > 20


def test_the_way_over_which_places_are_joined_now_is_there_in_each_state(
    told_of: Callable[..., list[Told]],
) -> None:
    for told in told_of("joined"):
        now = told.finding.now
        assert now is not None
        ways = ways_in(now)
        starts, ends = told.ends(told.there)
        for state in told.finding.states[:24]:
            closed = closed_at(told.there.circuit, state)
            steps = joints(told.spec, "substitute", told.there.circuit, closed, ())
            good = [way for way in ways if follow(way, steps) == 0]
            assert any(len(way) - 1 == shortest(starts, ends, steps) for way in good), now
        assert all(way[0] in starts and way[-1] in ends for way in ways)


def test_a_bridge_is_shown_over_old_and_new_contacts_and_a_stray_over_parts_as_well(
    told_of: Callable[..., list[Told]],
) -> None:
    for told in told_of("bridge", "stray"):
        finding, circuit = told.finding, told.there.circuit
        first = finding.steps[0]
        closed = closed_at(circuit, first.before) | closed_at(circuit, first.after)
        closed |= passed_over(circuit, first)
        parts = circuit.parts if finding.kind == "stray" else ()
        steps = joints(told.spec, "substitute", circuit, closed, parts)
        starts, ends = told.ends(told.there)
        assert finding.now is not None
        (way,) = ways_in(finding.now)
        assert way[0] in starts
        assert way[-1] in ends
        assert follow(way, steps) is not None
        assert len(way) - 1 == shortest(starts, ends, steps)


def test_what_was_interrupted_was_a_way_for_current_before_the_move(
    told_of: Callable[..., list[Told]],
) -> None:
    for told in told_of("gap", "interrupted"):
        finding, circuit = told.finding, told.here.circuit
        closed = closed_at(circuit, finding.steps[0].before)
        parts = circuit.parts if finding.kind == "interrupted" else ()
        steps = joints(told.spec, "original", circuit, closed, parts)
        starts, ends = told.ends(told.here)
        assert finding.was[0] in starts
        assert finding.was[-1] in ends
        assert len(finding.was) - 1 == shortest(starts, ends, steps)
        assert follow(finding.was, steps) is not None
        assert finding.now == (
            "the old contacts open before the new ones close"
            if finding.in_step
            else "one pole can let go before another has made contact"
        )


def ways_through(
    original: View, other: View, added: Sequence[str], fact: Mapping[str, Any]
) -> list[frozenset[str]]:
    """Per way between the two groups of an ``inserted`` fact, the added parts on it.

    Ways are told apart by the parts they take, over nets tied by contacts (and
    by the original's nets, where they do not lie between the fact's own groups).
    """
    closed = closed_in(other.circuit, fact["state"])
    groups = as_groups(fact["groups"])
    within_one_net = any(frozenset().union(*groups) <= net for net in original.anchored_nets())
    whole = () if within_one_net else (other.nets_of(net) for net in original.anchored_nets())
    tied = other.circuit.joined(closed, frozenset(whole))
    node_of = {net: node for node, nets in enumerate(tied) for net in nets}
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(len(tied)))
    for name in added:
        for group in other.circuit.dc_links([name]):
            for a, b in combinations(sorted({node_of[net] for net in group}), 2):
                graph.add_edge(a, b, key=name)
    start, end = ({node_of[net] for net in other.nets_of(group)} for group in groups)
    ways: list[frozenset[str]] = []
    for a, b in product(start, end):
        every: Iterable[Any] = nx.all_simple_edge_paths(graph, a, b)
        for way in every:
            ways.append(frozenset(edge[-1] for edge in way))
    return ways


def test_an_inserted_part_is_on_a_way_through_as_few_parts_as_can_be(
    told_of: Callable[..., list[Told]],
) -> None:
    """As the reference finds all ways, and as networkx weighs them."""
    named = 0
    for told in told_of("inserted"):
        finding = told.finding
        if len(finding.groups) != 2:
            continue
        added = added_parts(told.there)
        every = (full_states(told.spec, state.as_dict()) for state in finding.states)
        for state in (full for states in every for full in states):
            fact = {"groups": finding.groups, "state": state}
            ways = ways_through(told.here, told.there, added, fact)
            fewest = min(map(len, ways))
            assert frozenset(finding.through) in [way for way in ways if len(way) == fewest]
            named += 1
    assert named > 20


def test_the_way_shown_over_an_inserted_part_goes_through_as_few_parts_as_can_be(
    told_of: Callable[..., list[Told]],
) -> None:
    """Over added parts where those will do, else over any; physical wires and contacts alone."""
    shown = 0
    for told in told_of("inserted"):
        finding, circuit = told.finding, told.there.circuit
        starts, ends = told.ends(told.there)
        ways = ways_in(finding.now or "")
        for state in finding.states[:24]:
            closed = closed_at(circuit, state)
            for parts in (added_parts(told.there), list(circuit.parts)):
                steps = joints(told.spec, "substitute", circuit, closed, parts)
                fewest = shortest(starts, ends, steps, step=0)
                if fewest is not None:
                    assert fewest in [follow(way, steps) for way in ways]
                    shown += 1
                    break
        assert all(way[0] in starts and way[-1] in ends for way in ways)
    assert shown > 20


def test_a_dropped_path_ends_at_the_lugs_that_each_side_still_reaches(
    told_of: Callable[..., list[Told]],
) -> None:
    for told in told_of("dropped"):
        finding, circuit = told.finding, told.there.circuit
        tied = circuit.joined(closed_at(circuit, finding.states[0]))
        lugs = []
        for group in finding.groups:
            own = {circuit.net_of[t] for t, n in told.there.name_of.items() if n in group}
            reached = [nets for nets in tied if nets & own]
            lugs += sorted(
                terminal
                for terminal, net in circuit.net_of.items()
                if any(net in nets for nets in reached)
                and kind_of(circuit.parts.get(terminal.partition(".")[0], {"strip": 1})) == "switch"
            )
        assert list(finding.ends_at) == lugs
        assert finding.now is not None
        alone = [part for part in finding.now.split("; ") if "stops at" not in part]
        assert lugs or len(alone) >= len(finding.groups)


@pytest.mark.parametrize("kind", ["dropped", "inserted", "joined", "gap", "bridge", "stray"])
def test_the_findings_followed_here_are_many(kind: str, told_of: Callable[..., list[Told]]) -> None:
    """Guards the tests above against following nothing."""
    assert len(told_of(kind)) > (1 if kind == "stray" else 10)


def test_an_added_part_that_a_way_only_touches_is_not_one_that_it_goes_through() -> None:
    """By hand: Z1's lug serves as a tie point, Z1 itself hangs loose; declaring Z2 is enough."""
    spec: dict[str, Any] = {
        "rewire": "1",
        "title": "a lug as a tie point",
        "controls": {"K": ["P", "Q"]},
        "points": {"A": {}, "B": {}},
        "wirings": {
            "original": {"wires": [["A", "B"]]},
            "substitute": {
                "parts": {"Z1": {"resistor": "1 ohm"}, "Z2": {"resistor": "1 ohm"}},
                "wires": [["A", "Z1.1"], ["Z1.1", "Z2.1"], ["Z2.2", "B"]],
                "changes": [{"insert": "Z2", "between": ["A", "B"]}],
            },
        },
    }
    result = run_program(spec)
    (inserted,) = (f for f in result.findings if f.kind == "inserted")
    assert inserted.through == ("Z2",)
    assert inserted.meant
    assert result.verdict == "changed"
