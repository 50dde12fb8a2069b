"""The server of ``rewire watch``: what is on the board, to nobody but browsers on this computer.

It reads no file but its own three. Whoever asks must know the token in the address, and must have
come under the name of this computer, so that no page from elsewhere reads anything here, also
when its name was made to lead to this computer.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from hmac import compare_digest
from importlib.resources import files
from threading import Thread
from typing import TYPE_CHECKING

from werkzeug import Request, Response
from werkzeug.exceptions import Forbidden, HTTPException, MethodNotAllowed, NotFound
from werkzeug.serving import WSGIRequestHandler, make_server

from rewire.cli.board import NewsBoard

if TYPE_CHECKING:
    from wsgiref.types import WSGIApplication

_ALIVE = 15.0
"""Seconds after which a word is sent to a browser for which there is no news: it may be gone."""
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


class _Silent(WSGIRequestHandler):
    """Nothing on the terminal of who asked for what."""

    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002  as it is there
        """Nothing."""


@contextmanager
def served(board: NewsBoard) -> Iterator[str]:
    """Serve a board to this computer alone until the block ends; gives the address of its page."""
    token = secrets.token_urlsafe(24)
    app = _application(board, token)
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Silent)
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.port}/{token}/"
    finally:
        server.shutdown()
        server.server_close()


def _application(board: NewsBoard, token: str) -> WSGIApplication:
    """Answers a browser: 403 without the token, 404 for what does not exist."""

    @Request.application
    def answer(request: Request) -> Response:
        try:
            response = _answer(board, _asked(request, token))
        except HTTPException as refusal:
            response = Response(f"{refusal.code} {refusal.name}\n", refusal.code)
        for name, said in _HEADERS.items():
            response.headers.setdefault(name, said)
        return response

    return answer


def _asked(request: Request, token: str) -> str:
    """What is asked for, behind the token; refused to pages from elsewhere and without it."""
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


def _answer(board: NewsBoard, asked: str) -> Response:
    if asked in _OWN:
        name, kind = _OWN[asked]
        return Response(files("rewire.cli").joinpath(name).read_bytes(), mimetype=kind)
    if asked == "news":
        return Response(_stream(board), mimetype="text/event-stream")
    if asked != "page" or board.page is None:
        raise NotFound
    own_policy = {"Content-Security-Policy": "frame-ancestors 'self'"}  # the rest is in its head
    return Response(board.page, mimetype="text/html", headers=own_policy)


def _stream(board: NewsBoard) -> Iterator[str]:
    """News as server-sent events (HTML standard, 9.2), for ever; a comment where there are none."""
    known = -1
    while True:
        number, news = board.news(known, _ALIVE)
        yield f"data: {news}\n\n" if number != known else ":\n\n"
        known = number
