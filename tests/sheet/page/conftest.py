"""The browser that all tests of the page share, and pages opened in it."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from tests.sheet.page.opened import FLAGSHIP, Opened, made, opened

MOST_MILLISECONDS = 60_000
"""To wait for what is to be seen: a machine may have much else to do."""


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    place = shutil.which("chromium")
    if place is None:
        pytest.fail("no chromium on the PATH: run 'make browser', which installs it or says how")
    with sync_playwright() as playwright:
        # Root has no sandbox of the browser's own; what is opened are our own files.
        running = playwright.chromium.launch(executable_path=place, args=["--no-sandbox"])
        expect.set_options(timeout=MOST_MILLISECONDS)
        yield running
        running.close()


@pytest.fixture(scope="session")
def flagship(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("page") / "valve-amplifier.html"
    place.write_bytes(made(FLAGSHIP.read_bytes(), str(FLAGSHIP)))
    return place


@pytest.fixture
def show(browser: Browser) -> Iterator[Callable[..., Opened]]:
    """Opens files, and sees that no page complained or asked for anything but itself."""
    every: list[Opened] = []

    def opening(file: Path, **settings: object) -> Opened:
        every.append(opened(browser, file, **settings))
        return every[-1]

    yield opening
    for one in every:
        one.page.context.close()
        assert one.complaints == []
        assert [r for r in one.requests if r != one.address] == []
