"""A spec is somebody else's text: on the page it is shown, and runs nothing and fetches nothing."""

from __future__ import annotations

import http.server
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.sheet.page.opened import PHONE, WIDE, Opened, made

Show = Callable[..., Opened]
MARKUP = (
    "<script>window.caught = 1</script>",
    "</script><script>window.caught = 2</script>",
    "</style><img src=x onerror='window.caught = 3'>",
    '"><svg onload="window.caught = 4">',
    "' onfocus='window.caught = 5' autofocus tabindex='0",
    "<!-- <script> -->",
    "{{ 7 * 7 }}{% for x in y %}",
    "]]><iframe srcdoc='<script>parent.caught = 6</script>'>",
    "javascript:window.caught=7",
    "&lt;b&gt; &amp;amp; &#60;i&#62;",
    "\\u003cscript>window.caught = 8</script>",
)
TURNED = "abc\u202edcba\u2066x\u200fy"
LONG = "endless title " * 720
DEEP = "W" * 4000


def hostile(text: str) -> dict[str, Any]:
    """A spec with one text in every place that takes free text."""
    part = {"resistor": "10 ohm", "note": text, "where": text, "label": text}
    wires = [{"from": "S1.A", "to": "CHASSIS", "note": text, "gauge": text, "twisted_with": text}]
    wiring = {
        "note": text,
        "parts": {
            "S1": {"switch": "SPDT", "control": "K", "note": text, "label": text},
            "M1": {"meter": "1 mA", "resistance": "60 ohm", "scales": [text]},
            "R1": part,
        },
        "nets": [["R1.2", "CHASSIS"], ["M1.-", "CHASSIS"], ["S1.A1", "R1.1", "M1.+"]],
        "wires": wires,
    }
    other = {**wiring, "wires": [["S1.A2", "CHASSIS"]], "changes": [
        {"drop": ["R1.1", "CHASSIS"], "why": text},
    ]}  # fmt: skip
    return {
        "rewire": "1", "title": text, "equipment": text, "summary": text,
        "document": dict.fromkeys(("author", "date", "revision", "licence"), text),
        "controls": {"K": {"positions": [text, f"{text} too"], "note": text}},
        "points": {"CHASSIS": {"chassis": "yes", "note": text, "where": text}},
        "readings": {"r": {
            "when": {"K": text}, "current": ["M1.+", "CHASSIS"], "full_scale": "5 mA",
            "scale": text, "marks": {"2 mA": text},
        }},
        "rules": [{"isolate": ["M1.+", "CHASSIS"], "why": text}],
        "wirings": {"original": wiring, "other": other},
        "cautions": [text],
        "found": [{"what": text, "where": text, "plan": "keep", "why": text}],
        "procedure": {"before": [{"do": text, "where": text, "caution": text}]},
        "acceptance": [{"test": text, "how": text, "expect": text}],
    }  # fmt: skip


def page_of(folder: Path, text: str) -> Path:
    place = folder / "page.html"
    place.write_bytes(made(json.dumps(hostile(text)).encode(), f"dir/{text[:40]}.yaml"))
    return place


@pytest.mark.parametrize("start", range(0, len(MARKUP), 4))
def test_markup_in_a_spec_is_shown_as_text(show: Show, tmp_path: Path, start: int) -> None:
    text = " ".join(MARKUP[start : start + 4])
    tab = show(page_of(tmp_path, text))
    press_everything(tab)
    assert tab.page.evaluate("window.caught") is None
    assert tab.page.locator("h1").inner_text() == text
    assert tab.page.title() == text
    assert tab.page.locator(".cautions li").filter(has_text=text).count() >= 1
    assert tab.page.locator("img, iframe, object, embed, base, link").count() == 0
    assert tab.page.locator("script").count() == 2
    assert tab.page.locator("[onload], [onerror], [onfocus], body [style]").count() == 0


def press_everything(tab: Opened) -> None:
    """Every radio button, finding and row once."""
    tab.page.evaluate(
        """() => {
          for (const e of document.querySelectorAll("input[type=radio], button")) e.click();
          for (const e of document.querySelectorAll("[tabindex], input")) e.focus();
        }"""
    )


def test_marks_that_turn_the_writing_are_spelt_out(show: Show, tmp_path: Path) -> None:
    tab = show(page_of(tmp_path, TURNED))
    shown = tab.page.locator("body").inner_text()
    assert not {"\u202e", "\u2066", "\u200f"} & set(shown)
    assert "abc‹U+202E›dcba" in tab.page.locator("h1").inner_text()


def test_right_to_left_writing_is_written_right_to_left(show: Show, tmp_path: Path) -> None:
    tab = show(page_of(tmp_path, "מתג מד 3"))
    text = tab.page.locator("h1 bdi")
    assert text.inner_text() == "מתג מד 3"
    assert text.evaluate("e => getComputedStyle(e).direction") == "rtl"
    assert tab.page.evaluate("getComputedStyle(document.body).direction") == "ltr"


@pytest.mark.parametrize("text", [LONG, DEEP], ids=["words", "one word"])
def test_endless_texts_leave_the_page_usable(show: Show, tmp_path: Path, text: str) -> None:
    tab = show(page_of(tmp_path, text))
    for size in (WIDE, PHONE):
        tab.page.set_viewport_size(size)
        assert tab.page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        title = tab.page.locator("h1").bounding_box()
        assert title is not None
        assert title["height"] < 300


class _Counting(http.server.BaseHTTPRequestHandler):
    asked: list[str]

    def do_GET(self) -> None:
        self.asked.append(self.path)
        self.send_response(200)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def do_POST(self) -> None:
        self.do_GET()

    def log_message(self, *args: object) -> None:
        """Nothing on the terminal."""


@pytest.fixture
def listener() -> Iterator[tuple[str, list[str]]]:
    """A server on this machine, and what it was asked."""
    asked: list[str] = []
    handler = type("Counting", (_Counting,), {"asked": asked})
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}", asked
        server.shutdown()
        thread.join()


REACHING_OUT = """async (there) => {
  const tried = [];
  const attempt = (name, make) => { try { make(); tried.push(name); } catch { tried.push(name); } };
  const add = (tag, set) => attempt(tag, () => {
    const element = Object.assign(document.createElement(tag), set);
    document.body.append(element);
  });
  await fetch(`${there}/fetch`).catch(() => tried.push("fetch"));
  attempt("beacon", () => navigator.sendBeacon(`${there}/beacon`, "x"));
  add("img", { src: `${there}/img` });
  add("iframe", { src: `${there}/frame` });
  add("script", { src: `${there}/script` });
  add("link", { rel: "stylesheet", href: `${there}/style` });
  add("object", { data: `${there}/object` });
  add("video", { src: `${there}/video` });
  attempt("socket", () => new WebSocket(there.replace("http", "ws")));
  attempt("worker", () => new Worker(`${there}/worker`));
  const inline = document.createElement("script");
  inline.textContent = "window.caught = 9";
  document.body.append(inline);
  document.body.insertAdjacentHTML("beforeend", `<p onclick="window.caught = 10" id="bait">x</p>`);
  document.getElementById("bait").click();
  const form = Object.assign(document.createElement("form"), { action: `${there}/form` });
  document.body.append(form);
  if (location.protocol === "file:") attempt("form", () => form.submit());
  return tried;
}"""


def test_the_policy_would_stop_whatever_slipped_through(
    browser: Browser, flagship: Path, listener: tuple[str, list[str]]
) -> None:
    """Run from outside the page's own script, every way out that a page has is closed."""
    there, asked = listener
    tab = browser.new_context().new_page()
    tab.goto(there)
    tab.evaluate(REACHING_OUT, f"{there}/open")
    ways = ("fetch", "beacon", "img", "frame", "script", "style", "object", "worker")
    expected = {f"/open/{way}" for way in ways}
    for _ in range(100):
        if expected <= set(asked):
            break
        tab.wait_for_timeout(100)
    assert expected <= set(asked), "the listener hears what nobody forbids"
    assert tab.evaluate("window.caught") == 10
    tab.goto(flagship.as_uri())
    tried = tab.evaluate(REACHING_OUT, f"{there}/closed")
    tab.wait_for_timeout(500)
    assert len(tried) >= 10
    assert [path for path in asked if path.startswith("/closed")] == []
    assert tab.evaluate("window.caught") is None
    tab.context.close()
