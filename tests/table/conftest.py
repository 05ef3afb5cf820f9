"""A site open on the table: its server, and a way to ask it."""

from __future__ import annotations

import http.client
import json
import shutil
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest

SAMPLES = Path(__file__).parents[2] / "sample_sites"


class Asking:
    """A server and whoever asks it, as the page does unless told otherwise."""

    def __init__(self, server):
        self.server, self.port, self.secret = server, server.port, server.secret
        self.folder = server.session.folder

    def raw(self, method, path, body=None, headers=None, *, leave=()):
        """Status and body of one request; `leave` names headers that are not sent."""
        sent = {"Host": f"127.0.0.1:{self.port}", "Origin": f"http://127.0.0.1:{self.port}"}
        if method == "POST":
            sent |= {"Content-Type": "application/json", "X-Siteplan-Table": self.secret}
        sent |= headers or {}
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        if body is not None:
            sent.setdefault("Content-Length", str(len(body)))
        for name, value in sent.items():
            if name not in leave:
                line.putheader(name, value)
        line.endheaders(body)
        reply = line.getresponse()
        data = reply.read()
        line.close()
        return reply.status, data, dict(reply.getheaders())

    def get(self, path):
        status, data, _ = self.raw("GET", f"/{self.secret}/{path}")
        return status, json.loads(data)

    def post(self, path, value):
        status, data, _ = self.raw("POST", f"/{self.secret}/{path}", json.dumps(value).encode())
        return status, json.loads(data)

    def change(self, edit):
        """Load the document, edit it, send it back."""
        document = self.get("state")[1]
        edit(document)
        return self.post("change", {key: document[key] for key in ("version", "features", "heights", "settings")})


@contextmanager
def served(folder, out=None, **given):
    from siteplan.table.serving import TableServer

    server = TableServer(folder, out or folder / "plan", **given)
    thread = threading.Thread(target=server.serve_while_looked_at, daemon=True)
    thread.start()
    try:
        yield Asking(server)
    finally:
        server.shutdown()
        thread.join(10)


@pytest.fixture
def serve():
    return served


@pytest.fixture
def alder(tmp_path):
    """A copy of Alder Court, open on the table."""
    folder = tmp_path / "alder"
    shutil.copytree(SAMPLES / "alder-court", folder)
    with served(folder) as asking:
        yield asking


@pytest.fixture
def bytes_of():
    """Every file of a folder, by name."""
    return lambda folder: {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
