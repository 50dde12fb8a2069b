"""Opening pages in a real browser, and asking them what they show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

from rewire.compare import compare
from rewire.reading import read_text
from rewire.report.packet import Sources, packet_of
from rewire.report.page import page

SPECS = Path(__file__).parents[3] / "specs"
FLAGSHIP = SPECS / "valve-amplifier.yaml"
WIDE = {"width": 1280, "height": 900}
PHONE = {"width": 360, "height": 740}


@cache
def made(source: bytes, file: str = "spec.yaml", sections: tuple[str, ...] | None = None) -> bytes:
    """The page of a spec, built once."""
    spec = read_text(source, file)
    return page(packet_of(spec, compare(spec)), Sources(source), sections=sections)


@dataclass
class Opened:
    """A page in the browser, with all that it asked for and complained of."""

    page: Page
    address: str
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def choose(self, wiring: str) -> None:
        """Choose a wiring as a person does."""
        self._press(0, wiring)

    def turn(self, state: Mapping[str, str]) -> None:
        """Set every control, in the order of the mapping."""
        for control, position in state.items():
            self._press(1 + self._legends().index(control), position)

    def _legends(self) -> list[str]:
        return self.page.locator(".control legend").all_inner_texts()

    def _press(self, group: int, label: str) -> None:
        """A click on the label of a radio button; groups in the order of the page."""
        choice = self.page.locator("fieldset.choice").nth(group)
        labels = choice.locator("label").all_inner_texts()
        choice.locator("label").nth(labels.index(label)).click()

    def contacts(self, kind: str) -> set[frozenset[str]]:
        """Contacts drawn as ``closed`` or ``live``, by the lugs they join."""
        query = f".wiring:not(.aside, .beside) .bar.{kind}"
        pairs = self.page.eval_on_selector_all(
            query, "all => all.map(e => [e.dataset.a, e.dataset.b])"
        )
        return {frozenset(pair) for pair in pairs}

    def named(self, query: str) -> set[str]:
        """Names of elements of the wiring shown."""
        found = self.page.eval_on_selector_all(
            f".wiring:not(.aside, .beside) {query}", "all => all.map(e => e.dataset.name)"
        )
        return {name for names in found for name in names.split(" ")}

    def tied_by_lug(self) -> dict[str, set[str]]:
        """For each lug of the wiring shown: the lugs that light up as joined when it has focus."""
        told: dict[str, list[str]] = self.page.evaluate(_TIED)
        return {lug: set(lugs) for lug, lugs in told.items()}


_TIED = """() => {
  const shown = document.querySelector(".wiring:not(.aside, .beside)");
  const lugs = [...shown.querySelectorAll('.lugs:not(.aside) .thing[data-name^="t:"]')];
  const found = {};
  for (const lug of lugs) {
    lug.focus();
    const lit = lugs.filter((one) => one.classList.contains("tied"));
    found[lug.dataset.name.slice(2)] = lit.map((one) => one.dataset.name.slice(2));
  }
  return found;
}"""


def opened(browser: Browser, file: Path, **settings: Any) -> Opened:
    """Open a file in a fresh context, which nothing else shares."""
    context = browser.new_context(**{"viewport": WIDE, "reduced_motion": "reduce", **settings})
    tab = context.new_page()
    made = Opened(tab, file.as_uri())
    tab.on("request", lambda request: made.requests.append(request.url))
    tab.on("pageerror", lambda error: made.complaints.append(str(error)))
    tab.on("console", lambda message: made.complaints.append(message.text))
    tab.on("dialog", lambda dialog: made.complaints.append(f"dialog {dialog.message}"))
    tab.goto(made.address)
    return made
