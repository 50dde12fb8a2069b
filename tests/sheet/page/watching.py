"""`rewire watch` as a user runs it: the program, and a browser at the address that it says."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sysconfig
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, FrameLocator, Page, expect

from tests.docs.guide import README

DRAWN = re.compile("drawn [0-9]")
CHARGER = re.findall(r"```yaml\n(.*?)```", README.read_text("utf-8"), re.DOTALL)[0]
"""The spec of the README: its plan is broken."""
MENDED = CHARGER.replace("[RELAY, S2.B, BU]", "[RELAY, S2.B1, BU]")
ALONE = """\
title: Meter switch of a 12 V battery charger
rewire: 1
controls: {METER: [VOLTS, AMPS]}
points: {MINUS: {chassis: yes}, MULTIPLIER: {}, SHUNT: {}}
wirings:
  original:
    parts: {S1: {switch: SPDT, control: METER}}
    wires: [[MINUS, S1.A], [S1.A1, MULTIPLIER], [S1.A2, SHUNT]]
"""
"""The least that can be drawn: quick."""


@dataclass
class Watched:
    """A spec that is watched."""

    spec: Path
    program: subprocess.Popen[str]
    address: str

    def save(self, text: str) -> None:
        """As editors do: written beside it, then put in its place."""
        beside = self.spec.with_name(".#draft")
        beside.write_text(text, "utf-8")
        beside.replace(self.spec)

    def children(self) -> list[int]:
        """Processes that it has started."""
        ended = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(self.program.pid)],
            capture_output=True,
            text=True,
            check=False,
        )
        return [int(word) for word in ended.stdout.split()]


def heeds_ctrl_c() -> None:
    """For a program that is started: what a shell runs in the background ignores Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@contextmanager
def watched(spec: Path) -> Iterator[Watched]:
    """Watch a spec from its own folder, without a browser."""
    program = subprocess.Popen(
        [str(Path(sysconfig.get_path("scripts")) / "rewire"), "watch", spec.name, "--no-browser"],
        cwd=spec.parent,
        stdout=subprocess.PIPE,
        text=True,
        env={name: value for name, value in os.environ.items() if name != "PYTHONSAFEPATH"},
        preexec_fn=heeds_ctrl_c,
    )
    assert program.stdout is not None
    try:
        yield Watched(spec, program, program.stdout.readline().strip())
    finally:
        program.send_signal(signal.SIGINT)
        program.wait(60)
        program.stdout.close()


@dataclass
class Tab:
    """A tab of the browser at the page that is watched, with what it complained of."""

    page: Page
    complaints: list[str] = field(default_factory=list)

    @property
    def seen(self) -> FrameLocator:
        """The page that is seen, not one that is being loaded."""
        return self.page.frame_locator("iframe:not(.waiting)")

    def told(self, said: str | re.Pattern[str]) -> None:
        """Wait until the line of state says so."""
        expect(self.page.locator("#state")).to_contain_text(said)

    def drawn(self, title: str) -> None:
        """Wait until the page with this title is seen, and whole."""
        expect(self.seen.locator("h1")).to_have_text(title)
        self.told(DRAWN)
        expect(self.seen.locator(".continuity")).to_be_visible()


@contextmanager
def tab_at(browser: Browser, *addresses: str) -> Iterator[list[Tab]]:
    """Tabs of one browser, which share what it keeps; sees that no page complained."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    tabs = []
    for address in addresses:
        page = context.new_page()
        tab = Tab(page)
        page.on("pageerror", lambda error, tab=tab: tab.complaints.append(str(error)))
        page.on("console", lambda message, tab=tab: tab.complaints.append(message.text))
        page.goto(address)
        tabs.append(tab)
    yield tabs
    complaints = [complaint for tab in tabs for complaint in tab.complaints]
    context.close()
    assert complaints == []
