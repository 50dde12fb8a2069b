"""The marked-up view: legible, and everything of both wirings in it once, rightly marked."""

from __future__ import annotations

import io
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import networkx as nx
import pytest
from pypdf import PdfReader

from rewire.bench.wire_plan import renumbered, wire_plan
from rewire.compare.roles import roles_between
from rewire.draw.marked import marked_view
from rewire.draw.paint import paint_pdf
from rewire.draw.scene import Line, Paper, Scene
from rewire.reading.read import read_spec
from rewire.records.part import Part
from rewire.records.parts import Strip
from rewire.records.spec import CHANGES, ChangeKind, Spec, Wiring, change_said
from rewire.records.switches import Switch
from tests.bench.test_wire_plan import fates_by_moves
from tests.draw.audit import audit
from tests.draw.marked_pairs import large_pair, written_pair

SHIPPED = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
SEEDS = 160
IN_ONE = 8


def view(spec: Spec, wiring: Wiring, paper: Paper = "a4") -> tuple[Scene, ...]:
    return marked_view(spec, wiring, wire_plan(spec, "original", wiring.name), paper)


def pairs(spec: Spec, paper: Paper = "a4") -> Iterator[tuple[Wiring, tuple[Scene, ...]]]:
    for wiring in spec.others:
        yield wiring, view(spec, wiring, paper)


def check(spec: Spec, paper: Paper = "a4") -> None:
    spec = renumbered(spec)
    for wiring, scenes in pairs(spec, paper):
        assert [t for scene in scenes for t in audit(scene)] == []
        check_parts(spec, wiring, scenes)
        check_contacts(spec, wiring, scenes)
        check_wires(spec, wiring, scenes)
        check_nets(spec, wiring, scenes)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_shipped_specs(path: Path, paper: Paper) -> None:
    check(read_spec(path), paper)


@pytest.mark.parametrize("first", range(0, SEEDS, IN_ONE))
def test_small_random_pairs(first: int) -> None:
    for seed in range(first, first + IN_ONE):
        check(written_pair(seed), "a4" if seed % 2 else "letter")


@pytest.mark.parametrize("first", range(0, SEEDS // 2, IN_ONE))
def test_large_random_pairs(first: int) -> None:
    for seed in range(first, first + IN_ONE):
        check(large_pair(seed), "a4" if seed % 2 else "letter")


# What is seen ---------------------------------------------------------------------------


def tags(scenes: Iterable[Scene]) -> dict[str, list[str]]:
    """Words at the rungs of the pictures, by what they show; one entry for each sheet."""
    found: dict[str, dict[int, str]] = defaultdict(lambda: defaultdict(str))
    for number, scene in enumerate(scenes):
        for text in scene.texts:
            if text.on == text.shows and text.shows.partition(":")[0] in FATES:
                found[text.shows][number] += squeezed(text.text)
    return {shows: list(sheets.values()) for shows, sheets in found.items()}


FATES = {"kept", "removed", "new"}


def squeezed(text: str) -> str:
    return "".join(text.split())


def rows(scenes: Iterable[Scene]) -> dict[str, str]:
    """Words in the tables, by what they show; blanks left out."""
    found: dict[str, str] = defaultdict(str)
    for scene in scenes:
        for text in scene.texts:
            if text.on.startswith("row:") and text.shows:
                found[text.shows] += squeezed(text.text)
    return found


def fates(scenes: Sequence[Scene], kind: str, name: str) -> set[str]:
    """The marks a thing bears, in the pictures or, where it is not drawn, in the tables."""
    drawn = tags(scenes)
    told = rows(scenes)
    found = {fate for fate in FATES if f"{fate}:{kind}:{name}" in drawn}
    aside = {fate for fate in FATES if f"{fate}:aside:{kind}:{name}" in told}
    loose = {fate for fate in FATES if f"{fate}:{kind}:{name}" in told}
    return found | aside | loose


# Parts ----------------------------------------------------------------------------------


def own_parts(spec: Spec, wiring: Wiring) -> dict[str, Part]:
    every = {**spec.parts, **wiring.parts}
    return {n: p for n, p in every.items() if not isinstance(p, Switch | Strip)}


def record(part: Part) -> tuple[object, ...]:
    """All that makes a part what it is."""
    told = ("place", "between", "replaces", "note", "where", "label")
    fields = [f for c in type(part).__mro__ for f in getattr(c, "__slots__", ()) if f not in told]
    return (type(part), *((f, getattr(part, f)) for f in sorted(fields)))


def heir_of(spec: Spec, wiring: Wiring, name: str) -> Part | None:
    """The one part that claims every terminal of an original part, and no other's."""
    if name in spec.parts:
        return spec.parts[name]
    part = spec.original.parts[name]
    for other in wiring.parts.values():
        if other.replaces is None:
            if other.name == name and other.kind == part.kind:
                return other
        elif sorted(other.replaces.values()) == sorted(map(part.terminal, part.terminals)):
            return other if other.kind == part.kind else None
    return None


def check_parts(spec: Spec, wiring: Wiring, scenes: Sequence[Scene]) -> None:
    was, now = own_parts(spec, spec.original), own_parts(spec, wiring)
    heirs = {name: heir_of(spec, wiring, name) for name in was}
    drawn = tags(scenes)
    assert all(len(found) == 1 for found in drawn.values()), "a tag stands on two sheets"
    for name, part in was.items():
        heir = heirs[name]
        marks = fates(scenes, "part", name)
        assert marks & {"kept", "removed"}, name
        assert not {"kept", "removed"} <= marks, name
        if heir is None or record(part) != record(heir):
            assert "removed" in marks, name
        elif undisturbed(spec, wiring, part, heir):
            assert marks == {"kept"}, name
        else:
            assert marks in ({"kept"}, {"removed", "new"}), name
    for name in now:
        marks = fates(scenes, "part", name)
        origin = [n for n, heir in heirs.items() if heir is not None and heir.name == name]
        fresh = not origin or record(was[origin[0]]) != record(now[name])
        assert "new" in marks if fresh else marks & {"kept", "new"}, name
    shown = {s.split(":", 2)[2] for s in drawn if s.split(":")[1] == "part"}
    assert shown <= was.keys() | now.keys()


def undisturbed(spec: Spec, wiring: Wiring, part: Part, heir: Part) -> bool:
    """Whether each terminal's net is the same net, by everything that is in both wirings."""
    old, new = components(spec, spec.original), components(spec, wiring)
    seats = seats_of(spec, wiring)
    back = {now: was for was, now in seats.items()}
    for lug in heir.terminals:
        place = (heir.replaces or {}).get(lug, part.terminal(lug))
        if len(old[place]) == 1 or len(new[heir.terminal(lug)]) == 1:
            return False
        known_old = {seats[p] for p in old[place] if p in seats}
        known_new = {p for p in new[heir.terminal(lug)] if p in back}
        if known_old != known_new:
            return False
    return True


def seats_of(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Point or terminal of a part with a role → what it is in the other wiring."""
    seats = {point: point for point in spec.points}
    for part in own_parts(spec, spec.original).values():
        if part.name in spec.parts:
            seats.update({part.terminal(t): part.terminal(t) for t in part.terminals})
    for part in wiring.parts.values():
        if isinstance(part, Switch | Strip):
            continue
        if part.replaces is not None:
            seats.update({theirs: part.terminal(own) for own, theirs in part.replaces.items()})
            continue
        same = spec.original.parts.get(part.name)
        if same is not None and same.kind == part.kind:
            seats.update({same.terminal(t): part.terminal(t) for t in same.terminals})
    originals = own_parts(spec, spec.original)
    for name in roles_between(spec, wiring).turned:
        one, two = (originals[name].terminal(t) for t in originals[name].terminals)
        seats[one], seats[two] = seats[two], seats[one]
    return seats


def components(spec: Spec, wiring: Wiring) -> dict[str, frozenset[str]]:
    """Place → everything it is joined to; networkx does the joining."""
    graph = nx.Graph()
    graph.add_nodes_from(spec.points)
    for part in spec.parts_of(wiring).values():
        graph.add_nodes_from(map(part.terminal, part.terminals))
        if part.between:
            graph.add_edges_from(
                zip(map(part.terminal, part.terminals[:2]), part.between, strict=True)
            )
    for wire in wiring.wires:
        graph.add_edge(*wire.ends)
    for net in wiring.nets:
        nx.add_path(graph, net.members)
    found = {}
    for group in nx.connected_components(graph):
        found.update(dict.fromkeys(group, frozenset(group)))
    return found


# Contacts -------------------------------------------------------------------------------


def contacts(spec: Spec, wiring: Wiring) -> dict[str, tuple[str, tuple[str, str]]]:
    """Name of a contact → its switch and lugs."""
    found = {}
    for part in spec.parts_of(wiring).values():
        if isinstance(part, Switch):
            for section in part.sections:
                for groups in section.groups:
                    for group in groups:
                        for lug in group[1:]:
                            name = f"{part.name}.{group[0]}-{lug}"
                            found[name] = part.name, (group[0], lug)
    return found


def check_contacts(spec: Spec, wiring: Wiring, scenes: Sequence[Scene]) -> None:
    was, now = contacts(spec, spec.original), contacts(spec, wiring)
    for name in was:
        assert fates(scenes, "contact", name) & {"kept", "removed"}, name
    for name in now:
        assert fates(scenes, "contact", name) & {"kept", "new"}, name
    drawn = {s.split(":", 2)[2] for s in tags(scenes) if s.split(":")[1] == "contact"}
    assert drawn <= was.keys() | now.keys()


# Wires ----------------------------------------------------------------------------------


def check_wires(spec: Spec, wiring: Wiring, scenes: Sequence[Scene]) -> None:
    """Each wire of both wirings has one row, in which the list of moves would say the same."""
    told = {s: text for s, text in rows(scenes).items() if ":wire:" in s}
    shown = Counter()
    for shows, text in told.items():
        fate, _, number = shows.split(":")
        assert text == number.replace(" ", ""), "a number is said in full, once"
        shown[fate, number] += 1
    assert max(shown.values(), default=1) == 1
    assert shown == Counter(fates_by_moves(spec, "original", wiring.name))


# Nets -----------------------------------------------------------------------------------


def leads(scenes: Iterable[Scene], rung: str) -> dict[int, str | None]:
    """Number of a terminal → the net that its lead is drawn to."""
    found: dict[int, str | None] = {}
    for scene in scenes:
        for line in scene.lines:
            if line.joins and line.joins[0] == rung:
                found[int(line.joins[1].removeprefix("end:"))] = line.net
    return found


def united(scenes: Sequence[Scene], fate: str) -> Callable[[str | None], str | None]:
    """Rails that are one net in one of the wirings, by the rungs that say so."""
    graph = nx.Graph()
    for shows in {line.joins[0] for s in scenes for line in s.lines if line.joins}:
        if shows.startswith("rung:tie:"):
            tie = shows.removeprefix("rung:")
            if f"{fate}:{tie}" in tags(scenes):
                graph.add_edge(*leads(scenes, shows).values())
    groups = {n: min(group) for group in nx.connected_components(graph) for n in group}
    return lambda net: groups.get(net, net) if net is not None else None


def check_nets(spec: Spec, wiring: Wiring, scenes: Sequence[Scene]) -> None:
    """Terminals are drawn to one rail if, and only if, they are on one net; in both wirings."""
    for side, fate, present in (
        (spec.original, "removed", {"kept", "removed"}),
        (wiring, "new", {"kept", "new"}),
    ):
        nets = components(spec, side)
        one = united(scenes, fate)
        places = dict(drawn_places(spec, wiring, scenes, side, present))
        for place, rail in places.items():
            assert (rail is None) == (len(nets[place]) == 1), place
        for (a, rail_a), (b, rail_b) in combinations(places.items(), 2):
            if rail_a is not None and rail_b is not None:
                assert (one(rail_a) == one(rail_b)) == (nets[a] == nets[b]), (a, b)


def drawn_places(
    spec: Spec, wiring: Wiring, scenes: Sequence[Scene], side: Wiring, present: set[str]
) -> Iterator[tuple[str, str | None]]:
    """Terminal → the net its lead goes to, for the parts of one wiring that are drawn."""
    drawn = tags(scenes)
    original = side is spec.original
    for name, part in own_parts(spec, side).items():
        marks = {f for f in present if f"{f}:part:{name}" in drawn}
        if not marks:
            continue
        heir = heir_of(spec, wiring, name) if original else part
        shown = heir or part
        candidates = [f"rung:part:{shown.name}"]
        candidates += [f"rung:part:{name}:removed" if original else f"rung:part:{name}:new"]
        rung = next(r for r in reversed(candidates) if leads(scenes, r))
        if original and rung == candidates[0] and (part.kind in BOTH_WAYS or turned(scenes, rung)):
            continue
        for number, net in leads(scenes, rung).items():
            lug = (heir or part).terminals[number]
            replaces = (heir.replaces if original and heir else None) or {}
            yield replaces.get(lug, part.terminal(lug)), net


def turned(scenes: Iterable[Scene], rung: str) -> bool:
    """Whether the picture says that a part was connected the other way round."""
    below = {f"{rung}:below": "turned round"}
    return any(below.get(t.shows) == t.text for scene in scenes for t in scene.texts)


BOTH_WAYS = {"resistor", "capacitor", "choke", "lamp", "fuse"}


# Reading it back --------------------------------------------------------------------------


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_every_label_is_text_in_the_pdf(path: Path) -> None:
    for _, scenes in pairs(read_spec(path)):
        reader = PdfReader(io.BytesIO(paint_pdf(scenes)))
        for scene, page in zip(scenes, reader.pages, strict=True):
            said = squeezed(page.extract_text())
            for text in scene.texts:
                assert squeezed(text.text) in said, text.text


def test_same_spec_same_bytes() -> None:
    spec = read_spec(SHIPPED[-1])
    first, second = (paint_pdf(view(spec, spec.others[-1])) for _ in range(2))
    assert first == second


def test_the_way_past_the_meter_is_seen_to_be_lost() -> None:
    """The flagship's story: in the wiring as found nothing joins the bias return to chassis."""
    spec = read_spec(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
    scenes = view(spec, spec.wirings["as-found"])
    drawn = tags(scenes)
    for lug in ("C1", "C2", "C3"):
        assert f"removed:contact:S3.C-{lug}" in drawn
    lines = [line for scene in scenes for line in scene.lines]
    rails = {
        text.text: text.net for scene in scenes for text in scene.texts
        if text.shows.startswith("rail:")
    }  # fmt: skip
    ends = defaultdict(set)
    for line in lines:
        if line.joins and line.dash == "solid":
            ends[line.joins[0]].add(line.net)
    wanted = {rails["BIAS_RETURN"], rails["CHASSIS"]}
    assert not any(wanted <= nets for nets in ends.values())
    said = [text.text for scene in scenes for text in scene.texts]
    assert any("Pole C carries BIAS_RETURN to CHASSIS" in text for text in said)


def test_struck_lines_go_through_what_goes_and_nothing_else() -> None:
    spec = read_spec(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
    for _, scenes in pairs(spec):
        for scene in scenes:
            for text in scene.texts:
                if text.on != text.shows or text.shows.partition(":")[0] not in FATES:
                    continue
                through = [line for line in scene.lines if strikes(line, text)]
                assert bool(through) == text.shows.startswith("removed:"), text


def strikes(line: Line, text) -> bool:  # type: ignore[no-untyped-def]
    (x0, y0), (x1, y1) = line.points[0], line.points[-1]
    box = text.box
    return y0 == y1 and box.top < y0 < box.bottom and x0 < box.centre[0] < x1


# Which wirings it speaks of ------------------------------------------------------------------


def test_it_says_where_the_work_begins_if_that_is_not_the_original() -> None:
    begun = 0
    for path in SHIPPED:
        spec = read_spec(path)
        for wiring, scenes in pairs(spec):
            said = " ".join(text.text for text in scenes[0].texts)
            elsewhere = "as-found" in spec.wirings and wiring.name != "as-found"
            told = f"go by the list of moves from as-found to {wiring.name}" in said
            assert told == elsewhere, (path.stem, wiring.name)
            begun += told
    assert begun


def test_wires_stand_under_the_name_of_the_wiring_that_numbers_them_so() -> None:
    spec = read_spec(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
    scenes = view(spec, spec.wirings["substitute"])
    ids = {name: {w.id for w in spec.wirings[name].wires} for name in ("original", "substitute")}
    for scene in scenes:
        for name, side in (("original", "was"), ("substitute", "now")):
            heads = [t for t in scene.texts if t.text == "in" or t.text == f"in {name}"]
            listed = [t for t in scene.texts if f":{side}:wire:" in t.shows]
            assert {t.text for t in listed} <= ids[name]
            assert not listed or any(abs(t.x - listed[0].x) < 0.1 for t in heads)


def test_a_wiring_of_a_very_long_name_keeps_its_tables_legible() -> None:
    spec = read_spec(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")
    wiring = replace(spec.wirings["substitute"], name="substitute_" + "of_a_very_long_name_" * 6)
    wirings = {"original": spec.original, wiring.name: wiring}
    scenes = view(replace(spec, wirings=wirings), wiring)
    assert [t for scene in scenes for t in audit(scene)] == []


@pytest.mark.parametrize("kind", CHANGES)
def test_every_kind_of_declared_change_is_said_with_all_it_names(kind: ChangeKind) -> None:
    about = ("R5", "HT", "S1.A") if kind in ("insert", "link") else ("R5", "R6")
    said = change_said(kind, about)
    assert all(name in said for name in about)
    assert len(said.split()) > len(about)
