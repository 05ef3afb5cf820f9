"""A session in; a server of it on this machine's loopback out, for the page that draws.

It ends when nobody has looked for long.
"""

from __future__ import annotations

import contextlib
import json
import secrets
import threading
import time
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import resources
from pathlib import Path
from typing import Any

from siteplan.errors import InputError, InputErrors
from siteplan.offered import NAMES
from siteplan.table.answers import Answering, told_faults
from siteplan.table.deed_answers import deed_on_paper
from siteplan.table.ground_view import ground_view
from siteplan.table.guards import PLAIN_BYTES, Refusal, RequestHead, behind_secret, body_of, refused
from siteplan.table.picture import keep_picture, picture_bytes, picture_told
from siteplan.table.planning import Planning, written_plan
from siteplan.table.proposed import proposed_told
from siteplan.table.results import plan_on_paper
from siteplan.table.saving import ChangedOnDiskError, newest_save, steps_back
from siteplan.table.session import OutdatedError, TableSession
from siteplan.table.settings_form import forms
from siteplan.underlay.proven_image import MOST_PICTURE_BYTES

_PATIENCE = 20.0  # s for a request to come in whole
IDLE = 900.0  # s without a page that looks, after which the server ends
_TYPES = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".json": "application/json",
    ".csv": "text/csv",
}
# the page's own scripts, each with what it is about in its first line; table.js calls the others
SCRIPTS = (
    "table",
    "state",
    "nodes",
    "plane",
    "paper",
    "panels",
    "fields",
    "history",
    "tools",
    "entry",
    "making",
    "snapping",
    "question",
    "pointer",
    "keys",
    "units",
    "deed",
    "underlay",
    "planning",
    "notices",
)
ASSETS = {
    "": "table.html",
    "table.css": "table.css",
    **{f"{name}.js": f"{name}.js" for name in SCRIPTS},
}
# nothing from anywhere but here, no script but the page's own file, in no other page's frame
_PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
# the map of a plan: its own policy, in its head, names its scripts by their digests; this one keeps it from asking here
_MAP_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)


class TableServer(ThreadingHTTPServer):
    """The server of one site.

    Parameters
    ----------
    folder, out : Path
        The site folder, and where its plan is written.
    port : int
        0 takes a free one.
    idle : float, optional
        How long it stays with nobody looking [s]; a quarter of an hour when absent.

    Raises
    ------
    InputError
        If the folder cannot be read, or the port is taken.
    """

    daemon_threads = True
    allow_reuse_address = False

    def __init__(self, folder: Path, out: Path, *, port: int = 0, idle: float | None = None) -> None:
        self.session = TableSession(folder)
        self.answering = Answering(self.session)
        self.planning = Planning(self.session.folder, out)
        self._keeping = threading.Lock()
        self.secret = secrets.token_urlsafe(24)
        self._seen, self._idle = time.monotonic(), IDLE if idle is None else idle
        try:
            super().__init__(("127.0.0.1", port), _TableHandler)
        except (OSError, OverflowError) as fault:
            raise InputError(
                "--port", f"{port} cannot be had", "Name another, or leave it out for a free one."
            ) from fault

    @property
    def port(self) -> int:
        """The port it listens at."""
        return int(self.server_address[1])

    @property
    def address(self) -> str:
        """What a browser is given."""
        return f"http://127.0.0.1:{self.port}/{self.secret}/"

    def looked(self) -> None:
        """Somebody is there."""
        self._seen = time.monotonic()

    def serve_while_looked_at(self) -> None:
        """Serve until nobody has looked for long."""
        threading.Thread(target=self._watch, daemon=True).start()
        try:
            self.serve_forever(poll_interval=0.2)
        finally:
            self.planning.stop()
            self.server_close()

    def _watch(self) -> None:
        while time.monotonic() - self._seen < self._idle or self.planning.running:
            time.sleep(min(1.0, self._idle / 4))
        self.shutdown()

    def warm(self) -> None:
        """Answer once for nobody, so that the first hand does not wait for the compiler."""
        with contextlib.suppress(Exception):
            self.answering.answer({"quick": True})

    def keep_picture(self, data: bytes, page: int) -> str:
        """A picture put into the site folder, one at a time; its name there."""
        with self._keeping:
            return keep_picture(self.session.folder, data, page)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A page that went away in the middle of an answer is no fault."""


class _TableHandler(BaseHTTPRequestHandler):
    server: TableServer
    timeout = _PATIENCE
    server_version = "siteplan"
    sys_version = ""

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 -- the name of the library's
        """Nothing is logged: the address holds the secret."""

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """A refusal of the library's, in our plain form."""
        del explain
        self._say(code, {"refused": message or "refused"})

    def do_GET(self) -> None:
        """Pages and figures."""
        rest = self._let_in()
        if rest is None:
            return
        if rest in ASSETS:
            name = ASSETS[rest]
            data = resources.files("siteplan.assets").joinpath("table", name).read_bytes()
            self._send(200, data, f"{_TYPES[Path(name).suffix]}; charset=utf-8", _PAGE_POLICY)
        elif rest.startswith("plan/") and rest.removeprefix("plan/") in NAMES:
            self._plan_file(rest.removeprefix("plan/"))
        elif rest == "picture":
            self._picture()
        elif rest in _GETS:
            self._answered(lambda: _GETS[rest](self.server))
        else:
            self._say(404, {"refused": "nothing is here"})

    def do_POST(self) -> None:
        """What a page changes or asks."""
        rest = self._let_in()
        if rest is None:
            return
        if rest not in _POSTS and rest not in PLAIN_BYTES:
            self._say(404, {"refused": "nothing is here"})
            return
        length = int(self.headers["Content-Length"])
        try:
            data = self.rfile.read(length)
        except OSError:
            return
        whole = len(data) == length
        if whole and rest in PLAIN_BYTES:
            self._answered(lambda: {"name": self.server.keep_picture(data, _page_asked(self.path))})
            return
        body = body_of(data) if whole else Refusal(400, "less than was said")
        if isinstance(body, Refusal):
            self._say(body.status, {"refused": body.why})
            return
        self._answered(lambda: _POSTS[rest](self.server, body))

    def _let_in(self) -> str | None:
        asked = RequestHead(self.command, self.path, lambda name: self.headers.get_all(name) or [])
        refusal = refused(asked, self.server.secret, self.server.port)
        if refusal is not None:
            self._say(refusal.status, {"refused": refusal.why})
            return None
        self.server.looked()
        return behind_secret(self.path, self.server.secret)

    def _answered(self, make: Callable[[], dict[str, Any]]) -> None:
        try:
            self._say(200, make())
        except OutdatedError:
            self._say(
                409, {"refused": "another page changed it", "outdated": True, "version": self.server.session.version}
            )
        except ChangedOnDiskError as fault:
            self._say(409, {"refused": str(fault), "disk": list(fault.names)})
        except (InputError, InputErrors) as fault:
            self._say(422, {"refused": str(fault), "faults": told_faults(fault)})
        except Exception as fault:  # noqa: BLE001 -- a page must be told; the server goes on
            self._say(500, {"refused": f"a fault of ours ({type(fault).__name__})"})

    def _plan_file(self, name: str) -> None:
        try:
            data = (self.server.planning.out / name).read_bytes()
        except OSError:
            self._say(404, {"refused": "there is no plan yet"})
            return
        self._send(200, data, f"{_TYPES[Path(name).suffix]}; charset=utf-8", _MAP_POLICY)

    def _picture(self) -> None:
        try:
            data, kind = picture_bytes(self.server.session.state)
        except (InputError, OSError):
            self._say(404, {"refused": "there is no picture"})
            return
        self._send(200, data, kind, "default-src 'none'; frame-ancestors 'none'")

    def _say(self, status: int, value: dict[str, Any]) -> None:
        data = json.dumps(value, ensure_ascii=False, allow_nan=False).encode("utf-8", "replace")
        self._send(status, data, "application/json; charset=utf-8", "default-src 'none'; frame-ancestors 'none'")

    def _send(self, status: int, data: bytes, kind: str, policy: str) -> None:
        with contextlib.suppress(OSError):
            self.send_response(status)
            for name, value in (
                ("Content-Type", kind),
                ("Content-Length", str(len(data))),
                ("Content-Security-Policy", policy),
                ("X-Content-Type-Options", "nosniff"),
                ("X-Frame-Options", "DENY"),
                ("Referrer-Policy", "no-referrer"),
                ("Cache-Control", "no-store"),
                ("Cross-Origin-Opener-Policy", "same-origin"),
                ("Cross-Origin-Resource-Policy", "same-origin"),
                ("Connection", "close"),
            ):
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(data)


def _page_asked(path: str) -> int:
    """The page of a PDF that is asked for behind the path: 'picture?page=2'."""
    told = path.partition("?")[2].removeprefix("page=")
    return int(told) if told.isascii() and told.isdigit() and len(told) < 5 else 1


def _state(server: TableServer) -> dict[str, Any]:
    return {
        **server.session.document(),
        "picture": picture_told(server.session.state),
        "picture_most": MOST_PICTURE_BYTES,
        "proposed": proposed_told(server.session.state),
        "newest": newest_save(server.session.folder),
        "forms": forms(server.session.folder, server.session.state.settings),
        **_alive(server),
    }


def _alive(server: TableServer) -> dict[str, Any]:
    session = server.session
    return {"version": session.version, "disk": list(session.changed_on_disk()), "planning": server.planning.told()}


def _history(server: TableServer) -> dict[str, Any]:
    listed = steps_back(server.session.folder)
    return {"steps": [{"number": number, "time": when, "files": list(names)} for number, when, names in listed]}


def _result(server: TableServer) -> dict[str, Any]:
    if not (server.planning.out / "plan.json").is_file():
        return {"none": True}
    return plan_on_paper(written_plan(server.planning.out), server.session.state.paper)


def _change(server: TableServer, body: dict[str, Any]) -> dict[str, Any]:
    return {"version": server.session.change(body)}


def _plan(server: TableServer, body: dict[str, Any]) -> dict[str, Any]:
    del body
    server.planning.start(server.session.version)
    return server.planning.told()


def _stop(server: TableServer, body: dict[str, Any]) -> dict[str, Any]:
    del body
    server.planning.stop()
    return server.planning.told()


def _back(server: TableServer, body: dict[str, Any]) -> dict[str, Any]:
    number = body.get("number")
    if not isinstance(number, int) or isinstance(number, bool):
        raise InputError("history", "is asked for no save", "Take one of the list.")
    server.session.step_back(number)
    return _state(server)


def _reread(server: TableServer, body: dict[str, Any]) -> dict[str, Any]:
    del body
    server.session.reread()
    return _state(server)


_GETS: dict[str, Callable[[TableServer], dict[str, Any]]] = {
    "state": _state,
    "alive": _alive,
    "history": _history,
    "result": _result,
    "under": lambda server: {"picture": picture_told(server.session.state)},
    "ground": lambda server: ground_view(server.session, server.answering),
}
_POSTS: dict[str, Callable[[TableServer, dict[str, Any]], dict[str, Any]]] = {
    "change": _change,
    "answer": lambda server, body: server.answering.answer(body),
    "deed": lambda server, body: deed_on_paper(body, server.session.state.paper),
    "plan": _plan,
    "stop": _stop,
    "back": _back,
    "reread": _reread,
}
