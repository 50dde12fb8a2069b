"""The server of ``rewire watch``: what is shown now, to nobody but browsers on this computer.

It reads no file but its own three. Whoever asks must know the token in the address, and must have
come under the name of this computer, so that no page from elsewhere reads anything here, also
when its name was made to lead to this computer.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from hmac import compare_digest
from importlib.resources import files
from threading import Condition, Thread
from typing import TYPE_CHECKING, Any

from werkzeug import Request, Response
from werkzeug.exceptions import Forbidden, HTTPException, MethodNotAllowed, NotFound
from werkzeug.serving import WSGIRequestHandler, make_server

from rewire.cli.answers import Complaint, Trouble
from rewire.report.machine import as_json
from rewire.report.section import ReportSection
from rewire.words.wording import printable

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

_ALIVE = 15.0
"""Seconds after which a word is sent to a browser for which there is no news: it may be gone."""
_LONGEST = 160
"""Characters shown of a line of the spec."""
_OWN = {
    "": ("watch.html", "text/html"),
    "watch.css": ("watch.css", "text/css"),
    "watch.js": ("watch.js", "text/javascript"),
}
"""What is asked for → our file, and its kind."""
_HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "connect-src 'self'; frame-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, and the line of the spec where it stands; line and column from 1, or None."""

    message: str
    line: int | None = None
    column: int | None = None
    source: str = ""


_ENDED = Fault("the process that draws has ended, the terminal may say why; save again")


@dataclass(frozen=True, slots=True)
class Told:
    """What is said of a save, before anything is drawn or because something cannot be."""

    faults: tuple[Fault, ...] = ()
    sections: tuple[ReportSection, ...] = ()
    """The verdicts and what to do next, as ``rewire check`` says them."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """A page of a save: with the card alone, which comes first, or the whole packet."""

    html: bytes
    digest: str
    """Of the spec: under it a browser keeps what is ticked and typed on the page."""
    whole: bool


@dataclass(frozen=True, slots=True)
class News:
    """What is shown now. The last good page stays until there is a new one."""

    number: int = 0
    """One more each time."""
    drawing: bool = True
    told: Told = Told()
    leaf: Leaf | None = None
    """The last good page; None where there was none yet."""
    pages: int = 0
    """How many there were."""

    def told_to_browsers(self, file: str) -> str:
        """As JSON in one line; the page itself they then ask for."""
        leaf = self.leaf
        return json.dumps(
            {
                "file": printable(file),
                "drawing": self.drawing,
                "page": self.pages,
                "digest": leaf.digest if leaf else "",
                "whole": bool(leaf and leaf.whole),
                **as_json(self.told, {}),
            }
        )


def faults_of(trouble: Trouble | None, source: bytes = b"") -> tuple[Fault, ...]:
    """What is wrong with a spec, each with the line where it stands."""
    lines = source.decode("utf-8", "replace").splitlines()
    return tuple(_fault(one, lines) for one in trouble.complaints) if trouble else ()


def _fault(one: Complaint, lines: list[str]) -> Fault:
    message = f"{one.message}; {one.hint}" if one.hint else one.message
    at = lines[one.line - 1 : one.line] if one.line else []
    return Fault(printable(message), one.line, one.column, "".join(at)[:_LONGEST])


class Board:
    """Where what is shown is changed, save by save, and waited for."""

    def __init__(self) -> None:
        self._news, self._save = News(), 0
        self._changed = Condition()

    def begin(self) -> int:
        """A save has come; nothing of those before it is taken any more. Gives its number."""
        with self._changed:
            self._save += 1
            self._tell(drawing=True)
            return self._save

    def take(self, save: int, piece: Told | Leaf) -> None:
        """Show a piece of a save: the last is its whole page, or what is wrong."""
        with self._changed:
            if save != self._save:
                return
            if isinstance(piece, Told):
                self._tell(told=piece, drawing=not piece.faults)
            else:
                self._tell(leaf=piece, pages=self._news.pages + 1, drawing=not piece.whole)

    def end(self, save: int) -> None:
        """Nothing more comes of a save, also where its last piece is not there."""
        with self._changed:
            if save == self._save and self._news.drawing:
                self._tell(told=replace(self._news.told, faults=(_ENDED,)), drawing=False)

    def _tell(self, **changed: Any) -> None:
        self._news = replace(self._news, number=self._news.number + 1, **changed)
        self._changed.notify_all()

    def news(self, known: int, patience: float = 0.0) -> News:
        """What is shown now; where that is ``known``, the next, waited for so many seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self._news.number != known, patience)
            return self._news


class _Silent(WSGIRequestHandler):
    """Nothing on the terminal of who asked for what."""

    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002  as it is there
        """Nothing."""


@contextmanager
def served(board: Board, file: str) -> Iterator[str]:
    """Serve a board to this computer alone until the block ends; gives the address of its page."""
    token = secrets.token_urlsafe(24)
    app = application(board, file, token)
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Silent)
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.port}/{token}/"
    finally:
        server.shutdown()
        server.server_close()


def application(board: Board, file: str, token: str) -> WSGIApplication:
    """What answers a browser: 403 for whoever may not ask, 404 for what there is not."""

    @Request.application
    def answer(request: Request) -> Response:
        try:
            response = _answer(board, file, _asked(request, token))
        except HTTPException as refusal:
            response = Response(f"{refusal.code} {refusal.name}\n", refusal.code)
        for name, said in _HEADERS.items():
            response.headers.setdefault(name, said)
        return response

    return answer


def _asked(request: Request, token: str) -> str:
    """What is asked for, behind the token.

    Raises:
        Forbidden: under another name, by a page from elsewhere, or without the token.
        MethodNotAllowed: it is more than a question.
    """
    port, origin = request.environ["SERVER_PORT"], request.headers.get("Origin")
    names = {f"127.0.0.1:{port}", f"localhost:{port}"}
    if request.headers.get("Host") not in names:
        raise Forbidden
    if origin is not None and origin.removeprefix("http://") not in names:
        raise Forbidden
    given, slash, asked = request.path.removeprefix("/").partition("/")
    if not compare_digest(given.encode("utf-8", "replace"), token.encode()) or not slash:
        raise Forbidden
    if request.method not in ("GET", "HEAD"):
        raise MethodNotAllowed
    return asked


def _answer(board: Board, file: str, asked: str) -> Response:
    if asked in _OWN:
        name, kind = _OWN[asked]
        return Response(files("rewire.cli").joinpath(name).read_bytes(), mimetype=kind)
    if asked == "news":
        return Response(_stream(board, file), mimetype="text/event-stream")
    leaf = board.news(-1).leaf
    if asked != "page" or leaf is None:
        raise NotFound
    own_policy = {"Content-Security-Policy": "frame-ancestors 'self'"}  # the rest is in its head
    return Response(leaf.html, mimetype="text/html", headers=own_policy)


def _stream(board: Board, file: str) -> Iterator[str]:
    """News as server-sent events (HTML standard, 9.2), for ever; a comment where there are none."""
    known = -1
    while True:
        news = board.news(known, _ALIVE)
        yield f"data: {news.told_to_browsers(file)}\n\n" if news.number != known else ":\n\n"
        known = news.number
