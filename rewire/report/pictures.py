"""Which pictures there are of a spec: one table of views, each with what it draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from rewire.bench.moves import default_source
from rewire.bench.wire_plan import wire_plan
from rewire.circuit import LimitReached
from rewire.compare import Result, compare
from rewire.draw.beside import Side, beside_view
from rewire.draw.circuit import circuit_panel, circuit_view
from rewire.draw.lugview import SeenFrom, lug_view
from rewire.draw.marked import marked_view
from rewire.draw.scanned import scanned_view
from rewire.draw.scene import PAPER, Panel, Paper, Scene
from rewire.draw.sheets import UNMARKED, Mark, footed, on_a_sheet, stacked
from rewire.draw.symbols import Standard
from rewire.reading.benchlog import BenchLog
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.report.card import card_pages, verdict_said
from rewire.report.check import Told, tellings
from rewire.report.dial import Finish, PlateWish, dial_pages
from rewire.report.panel import template_pages
from rewire.report.wrong import marks_on, sentence_on
from rewire.values.answers import WiringValues
from rewire.values.solved import solved_of
from rewire.values.wiring_values import values_of


@dataclass(frozen=True, slots=True)
class Wish:
    """What to draw of a spec; an empty list of names stands for all there are."""

    spec: Spec
    wirings: tuple[str, ...] = ()
    switches: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    seen_from: SeenFrom = "behind"
    paper: Paper = "a4"
    symbols: Standard = "iec"
    results: Mapping[str, Result] = field(default_factory=dict)
    """The comparison of each drawn wiring with the original."""
    log: BenchLog | None = None
    """What was measured: a dial is drawn to it."""
    finish: Finish = frozenset()

    @property
    def side(self) -> tuple[str, ...]:
        """The unusual side, for the name of a file."""
        return ("front",) if self.seen_from == "front" else ()

    def drawn_wirings(self) -> Iterator[Wiring]:
        """The wirings asked for, the plans first and the original last."""
        for wiring in self.spec.told:
            if not self.wirings or wiring.name in self.wirings:
                yield wiring

    def mark(self, wiring: Wiring) -> Mark:
        """Of which wiring a picture is, and its verdict."""
        result = self.results.get(wiring.name)
        verdict = verdict_said(wiring, result, None)
        broken = result is not None and result.verdict == "broken"
        across = f"{verdict}; {wiring.name} does not keep what the original did"
        return Mark(f"wiring {wiring.name}: {verdict}", across if broken else None)

    def switches_of(self, wiring: Wiring) -> Iterator[Switch]:
        """The switches asked for that a wiring has."""
        for name, switch in self.spec.all_of(Switch, wiring).items():
            if not self.switches or name in self.switches:
                yield switch


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture, on as many sheets as it takes."""

    view: str
    about: tuple[str, ...]
    """Names of what it shows, for the name of its file."""
    scenes: tuple[Scene, ...]
    panel: Panel | None = None
    """The same without a sheet around it, where it may share one with the next."""
    mark: Mark = UNMARKED
    whole: bool = False
    """Whether the sheet says all that a foot would."""


def paged(made: Sequence[Picture], spec: Spec, paper: Paper) -> tuple[Scene, ...]:
    """All pictures on sheets with a foot, but for those that are a page of their own."""
    ready = tuple(scene for picture in made if picture.whole for scene in picture.scenes)
    sheets = on_sheets([picture for picture in made if not picture.whole], paper)
    return (*ready, *footed([scene for scene, _ in sheets], spec, [mark for _, mark in sheets]))


def on_sheets(made: Sequence[Picture], paper: Paper) -> list[tuple[Scene, Mark]]:
    """All pictures, those of a wiring that may share a sheet one under another while they fit.

    With each sheet whose it is.
    """
    sheets: list[tuple[Scene, Mark]] = []
    for (panels, mark), pictures in groupby(made, key=lambda p: (p.panel is not None, p.mark)):
        scenes: Iterable[Scene] = (scene for picture in pictures for scene in picture.scenes)
        if panels:
            scenes = _shared([(p.scenes[0].title, p.panel) for p in pictures if p.panel], paper)
        sheets += [(scene, mark) for scene in scenes]
    return sheets


def _shared(panels: Sequence[tuple[str, Panel]], paper: Paper) -> Iterator[Scene]:
    waiting: list[tuple[str, Panel]] = []
    for one in panels:
        if waiting and len(stacked([p for _, p in (*waiting, one)], paper)) > 1:
            yield from _stacked(waiting, paper)
            waiting = []
        waiting.append(one)
    yield from _stacked(waiting, paper)


def _stacked(panels: Sequence[tuple[str, Panel]], paper: Paper) -> tuple[Scene, ...]:
    return stacked([p for _, p in panels], paper, "; ".join(title for title, _ in panels))


def _card(wish: Wish) -> Iterator[Picture]:
    """A card for each plan; for any wiring that is asked for; for what there is without a plan."""
    for wiring in _planned(wish):
        result = wish.results.get(wiring.name)
        scenes = card_pages(
            wish.spec, wiring, result, _values(wish.spec, wiring), wish.paper, wish.symbols
        )
        yield Picture("card", (wiring.name,), scenes, whole=True)


def _planned(wish: Wish) -> Sequence[Wiring]:
    asked = tuple(wish.drawn_wirings())
    plans = tuple(wiring for wiring in asked if wish.wirings or wiring.role == "plan")
    return plans or asked[-1:]


def _dial(wish: Wish) -> Iterator[Picture]:
    """The plate of each meter that has a dial to be printed, at its true size."""
    for wiring in _planned(wish):
        (values,) = values_of(wish.spec, [wiring.name])
        asked = PlateWish(wish.readings, wish.log, wish.finish)
        made = dial_pages(wish.spec, wiring, values, asked)
        for one in made:
            scene = on_a_sheet(one.panel, wish.paper, f"A new plate for {one.meter}")
            about = (wiring.name, one.meter, *sorted(wish.finish))
            yield Picture("dial", about, (scene,), mark=wish.mark(wiring))


def _values(spec: Spec, wiring: Wiring) -> WiringValues | None:
    try:
        return values_of(spec, [wiring.name])[0]
    except LimitReached:
        return None


def _lugs(wish: Wish) -> Iterator[Picture]:
    for wiring in wish.drawn_wirings():
        for switch in wish.switches_of(wiring):
            scenes = lug_view(
                wish.spec, wiring, switch.name, seen_from=wish.seen_from, paper=wish.paper
            )
            about = (wiring.name, switch.name, *wish.side)
            yield Picture("lugs", about, scenes, mark=wish.mark(wiring))


def _side(wish: Wish) -> Iterator[Picture]:
    """The original beside each wiring with something wrong, or that is asked for by name."""
    for wiring in wish.drawn_wirings():
        result = wish.results.get(wiring.name)
        if result is None:
            continue
        (telling,) = tellings([result])
        if telling.wrong or wiring.name in wish.wirings:
            scene = beside_view(
                wish.spec, _sides(wish, wiring, telling.wrong),
                [f"✗{one.number} {sentence_on(one, result.states)}" for one in telling.wrong]
                or ["Nothing is wrong."],
                _moved(telling.wrong), wish.paper,
            )  # fmt: skip
            yield Picture("side", (wiring.name,), (scene,), mark=wish.mark(wiring))


def _sides(wish: Wish, wiring: Wiring, faults: Sequence[Told]) -> tuple[Side, Side]:
    both = []
    for one in (wish.spec.original, wiring):
        switches = wish.spec.all_of(Switch, one).values()
        forms = "; ".join(f"{switch.name}, {switch.described}" for switch in switches)
        both.append(Side(one, f"{one.name}: {forms}", marks_on(wish.spec, one, faults)))
    return both[0], both[1]


def _moved(faults: Sequence[Told]) -> list[str]:
    """The controls in whose travel something is wrong."""
    steps = [step for told in faults for finding in told.findings for step in finding.steps]
    names = (name for step in steps for name, _ in {*step.before.at} ^ {*step.after.at})
    return sorted(set(names))


def _circuit(wish: Wish) -> Iterator[Picture]:
    for wiring in wish.drawn_wirings():
        wanted = [n for n in wiring.readings if not wish.readings or n in wish.readings]
        if not wanted:
            continue
        worked = solved_of(wish.spec, wiring)
        for name in wanted:
            scenes = circuit_view(worked, name, wish.paper)
            fits = (scenes[0].width, scenes[0].height) == PAPER[wish.paper]
            alone = circuit_panel(worked, name, wish.paper) if fits else None
            yield Picture("circuit", (wiring.name, name), scenes, alone, wish.mark(wiring))


def _marked(wish: Wish) -> Iterator[Picture]:
    for wiring in wish.drawn_wirings():
        if wiring is not wish.spec.original:
            (values,) = values_of(wish.spec, [wiring.name])
            source = default_source(wish.spec, [wiring.name])
            scenes = marked_view(wire_plan(wish.spec, source, wiring.name), wish.paper, values)
            yield Picture("marked", (wiring.name,), scenes, mark=wish.mark(wiring))


def _templates(wish: Wish) -> Iterator[Picture]:
    """A page at true size for each new switch or meter of which the panel's side is known."""
    for wiring in wish.drawn_wirings():
        for name, panel in template_pages(wish.spec, wiring):
            scene = on_a_sheet(panel, wish.paper, f"Template for {name} in {wiring.name}, 1:1")
            yield Picture("template", (wiring.name, name), (scene,), mark=wish.mark(wiring))


def _pages(wish: Wish) -> Iterator[Picture]:
    if not wish.spec.pages:
        return
    others = [wiring for wiring in wish.drawn_wirings() if wiring is not wish.spec.original]
    values = {w.name: values_of(wish.spec, [w.name])[0] for w in others}
    scenes = scanned_view(wish.spec, others, wish.paper, values=values)
    yield Picture("pages", (), scenes)


VIEWS: dict[str, Callable[[Wish], Iterator[Picture]]] = {
    "card": _card,
    "lugs": _lugs,
    "side": _side,
    "circuit": _circuit,
    "marked": _marked,
    "template": _templates,
    "pages": _pages,
    "dial": _dial,
}
"""Name of a view → what draws it."""


@dataclass(frozen=True, slots=True)
class Made:
    """The pictures that came of a wish, and the limits that kept others away."""

    pictures: tuple[Picture, ...]
    limits: tuple[str, ...]


def pictures(wish: Wish, views: Sequence[str]) -> Made:
    """All pictures of these views, in the order of the table above.

    Raises:
        SpecError: a value that a picture needs cannot be understood.
        LimitReached: it kept every picture away.
    """
    others = [wiring.name for wiring in wish.drawn_wirings() if wiring is not wish.spec.original]
    found = compare(wish.spec, others) if others else ()
    wish = replace(wish, results={result.wiring: result for result in found})
    drawn: list[Picture] = []
    limits: list[LimitReached] = []
    for view in (name for name in VIEWS if name in views):
        try:
            drawn += (picture for picture in VIEWS[view](wish) if picture.scenes)
        except LimitReached as limit:
            limits.append(limit)
    if limits and not drawn:
        raise limits[0]
    return Made(tuple(drawn), tuple(str(limit) for limit in limits))
