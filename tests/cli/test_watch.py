"""`rewire watch` from outside the browser: who is answered, who is refused, how it ends."""

from __future__ import annotations

import http.client
import json
import os
import re
import select
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from click.testing import CliRunner

from rewire.cli import rewire
from rewire.cli.board import NewsBoard, Piece
from rewire.cli.watch import saves
from rewire.cli.watch_server import served
from rewire.report.machine import as_json
from rewire.report.section import ReportSection, Words
from tests.hard.commands import SMALL
from tests.sheet.page.watching import watched

PAGE = b"<!doctype html><title>the page</title>"


def whole_page(html: bytes) -> Piece:
    return {"html": html, "digest": "digest", "whole": True}


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    board = NewsBoard("a\u202e.yaml")
    save = board.begin()
    told = ReportSection("verdict", "", (Words("all kept", "KEPT:"),))
    board.take(save, {"faults": [], "sections": [as_json(told, {})]})
    board.take(save, whole_page(PAGE))
    with served(board) as there:
        yield there


def asked(address: str, path: str, method: str = "GET", **headers: str) -> http.client.HTTPResponse:
    """An answer, its headers read; ``path`` as it is sent, whatever a browser would make of it."""
    parts = urlsplit(address)
    assert parts.hostname == "127.0.0.1"
    line = http.client.HTTPConnection(parts.hostname, parts.port or 0, timeout=60)
    line.putrequest(method, path, skip_host="Host" in headers)
    for name, value in headers.items():
        line.putheader(name, value)
    line.endheaders()
    answer = line.getresponse()
    if path.endswith("news") and answer.status == 200:
        return answer
    answer.body = answer.read()  # type: ignore[attr-defined]
    line.close()
    return answer


def own(address: str) -> str:
    return urlsplit(address).path


def test_the_page_is_given_to_who_knows_the_token(address: str) -> None:
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/[\w-]{32}/", address)
    for path in ("", "watch.js", "watch.css", "page", "page?3"):
        answer = asked(address, own(address) + path)
        assert answer.status == 200
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Access-Control-Allow-Origin"] is None
        assert "frame-ancestors" in answer.headers["Content-Security-Policy"]
    assert asked(address, own(address) + "page").body == PAGE  # type: ignore[attr-defined]
    port = urlsplit(address).port
    for host in (f"localhost:{port}", f"127.0.0.1:{port}"):
        same = {"Host": host, "Origin": f"http://{host}"}
        assert asked(address, own(address), **same).status == 200


def test_news_come_as_events_and_say_what_is_shown(address: str) -> None:
    answer = asked(address, own(address) + "news")
    assert answer.headers["Content-Type"].startswith("text/event-stream")
    told = json.loads(answer.readline().removeprefix(b"data: "))
    answer.close()
    assert told["file"] == "a‹U+202E›.yaml"
    assert (told["page"], told["digest"], told["drawing"]) == (1, "digest", False)
    assert told["sections"][0]["blocks"][0]["text"] == "all kept"


@pytest.mark.parametrize(
    "path", ["/", "/favicon.ico", "/TOKEN", "/TOKENx/", "/x/page", "/%00/", "/%c3%bc%ff/"]
)
def test_without_the_token_everything_is_refused(address: str, path: str) -> None:
    answer = asked(address, path.replace("TOKEN", own(address).strip("/")))
    assert (answer.status, answer.headers["Cache-Control"]) == (403, "no-store")


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "evil.example:PORT"},
        {"Host": "127.0.0.1.evil.example:PORT"},
        {"Host": "127.0.0.1"},
        {"Host": "127.0.0.1:1"},
        {"Host": ""},
        {"Origin": "http://evil.example"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "https://127.0.0.1:PORT"},
        {"Origin": "null"},
    ],
)
def test_other_names_and_pages_from_elsewhere_are_refused(
    address: str, headers: dict[str, str]
) -> None:
    """The name, because a page from elsewhere can have its own name lead to this computer."""
    port = str(urlsplit(address).port)
    sent = {name: value.replace("PORT", port) for name, value in headers.items()}
    assert asked(address, own(address) + "page", **sent).status == 403


@pytest.mark.parametrize(
    "path", ["../../etc/passwd", "%2e%2e/%2e%2e/etc/passwd", "..%2fboard.py", "board.py", "page/"]
)
def test_there_is_no_file_to_be_had(address: str, path: str) -> None:
    assert asked(address, own(address) + path).status == 404


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
def test_one_can_only_ask(address: str, method: str) -> None:
    assert asked(address, own(address), method).status == 405


def test_only_the_last_save_is_shown_and_the_last_good_page_stays() -> None:
    board = NewsBoard("spec.yaml")

    def shown() -> dict[str, Any]:
        told: dict[str, Any] = json.loads(board.news()[1])
        return told

    first = board.begin()
    board.take(first, whole_page(b"first"))
    second = board.begin()
    board.take(first, whole_page(b"late"))
    board.end(first)
    assert shown()["drawing"]
    board.end(second)
    assert (board.page, shown()["drawing"]) == (b"first", False)
    assert "has ended" in shown()["faults"][0]["message"]


def test_each_save_is_seen_and_a_file_that_is_gone(tmp_path: Path) -> None:
    spec = tmp_path / "spec.yaml"
    spec.write_text("rewire: [", "utf-8")
    seen = saves(spec)
    source, told = next(seen)
    assert (source, told["faults"][0]["line"]) == (b"rewire: [", 1)
    spec.write_text("", "utf-8")
    assert next(seen)[0] == b""
    spec.unlink()
    assert "No such file" in next(seen)[1]["faults"][0]["message"]


@pytest.mark.parametrize("spec", [".", "-", "/dev/null"])
def test_only_a_file_can_be_watched(spec: str) -> None:
    done = CliRunner().invoke(rewire, ["watch", spec])
    assert (done.exit_code, done.stdout) == (2, "")
    assert f"{spec}: only a file can be watched" in done.stderr


def test_a_spec_that_is_not_there_is_refused(tmp_path: Path) -> None:
    done = CliRunner().invoke(rewire, ["watch", str(tmp_path / "gone.yaml")])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "gone.yaml:1:1: the file cannot be read: No such file" in done.stderr


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL], ids=["Ctrl-C", "killed"])
def test_nothing_is_left_running_and_nothing_beside_the_spec_runs(
    tmp_path: Path, how: signal.Signals
) -> None:
    spec = tmp_path / "spec.yaml"
    spec.write_bytes(SMALL.read_bytes())
    caught = tmp_path / "caught"
    for name in ("multiprocessing", "signal", "pickle", "json", "numpy", "rewire", "sitecustomize"):
        trap = f"open({str(caught)!r}, 'a').write(__name__)"
        spec.with_name(f"{name}.py").write_text(trap, "utf-8")
    with watched(spec) as running:
        news = asked(running.address, own(running.address) + "news")
        told: dict[str, object] = {"sections": [], "faults": []}
        while not (
            told["sections"] or told["faults"]
        ):  # by then one process draws, and one waits for the next save
            line = news.readline()
            told = json.loads(line[6:]) if line.startswith(b"data: ") else told
        assert told["faults"] == []
        started = [os.pidfd_open(process) for process in running.children()]
        assert len(started) >= 2
        running.program.send_signal(how)
        assert running.program.wait(60) == (0 if how == signal.SIGINT else -signal.SIGKILL)
    for process in started:
        ready, _, _ = select.select([process], [], [], 60)
        assert ready, "a process goes on without the program that started it"
        os.close(process)
    assert not caught.exists(), caught.read_text("utf-8")
