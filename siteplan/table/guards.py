"""The head of a request in; whether it may be answered, out. Nothing of the request is acted on before this."""

from __future__ import annotations

import hmac
import json
from collections.abc import Callable
from typing import Any, NamedTuple

from siteplan.underlay.proven_image import MOST_PICTURE_BYTES

MOST_BYTES = 4_000_000  # of a document sent; a lot's takes a hundredth of it
PLAIN_BYTES = frozenset({"picture"})  # what takes the bytes of a file as they are, and no document
_MOST_DIGITS = 12
SECRET_HEADER = "X-Siteplan-Table"  # noqa: S105 -- the name of a header, not a secret


class Refusal(NamedTuple):
    """Why a request is not answered: a status of HTTP, and a word for whoever looks."""

    status: int
    why: str


class RequestHead(NamedTuple):
    """The head of a request. `headers` gives every value of a header, by its name in any case."""

    method: str
    path: str
    headers: Callable[[str], list[str]]


def refused(asked: RequestHead, secret: str, port: int) -> Refusal | None:
    """Whether a request is refused by its head.

    Parameters
    ----------
    asked : RequestHead
        The head.
    secret : str
        Stands in the path of every request, and in a header of those that change something.
    port : int
        Of the server: another site's name that was pointed at this machine is not ours.

    Returns
    -------
    Refusal or None
        None: it may be answered.

    References
    ----------
    The Host header as the defence against a rebound name, and Origin as that against another site's page: RFC 9110
    section 7.2 and RFC 6454 section 7; common practice.
    """
    told = _from_where(asked, port)
    if told is not None:
        return told
    if asked.method not in {"GET", "POST"}:
        return Refusal(405, "no such method here")
    if behind_secret(asked.path, secret) is None:
        return Refusal(404, "nothing is here")
    return None if asked.method == "GET" else _body_refused(asked, secret)


def _from_where(asked: RequestHead, port: int) -> Refusal | None:
    names = {f"127.0.0.1:{port}", f"localhost:{port}"}
    host = asked.headers("Host")
    if len(host) != 1 or host[0].strip().lower() not in names:
        return Refusal(403, "this server answers to 127.0.0.1 alone")
    origin = asked.headers("Origin")
    if origin and (len(origin) != 1 or origin[0].strip().lower() not in {f"http://{name}" for name in names}):
        return Refusal(403, "another page may not ask here")
    if any(one.strip().lower() not in {"same-origin", "none"} for one in asked.headers("Sec-Fetch-Site")):
        return Refusal(403, "another page may not ask here")
    return None


def _body_refused(asked: RequestHead, secret: str) -> Refusal | None:
    plain = behind_secret(asked.path, secret) in PLAIN_BYTES
    form, most = ("application/octet-stream", MOST_PICTURE_BYTES) if plain else ("application/json", MOST_BYTES)
    told, kind, length = (asked.headers(name) for name in (SECRET_HEADER, "Content-Type", "Content-Length"))
    if len(told) != 1 or not _same(told[0], secret):
        return Refusal(403, "the page's own header is missing")
    if len(kind) != 1 or kind[0].split(";")[0].strip().lower() != form:
        return Refusal(415, "the bytes of a file are asked for" if plain else "only JSON is read")
    if asked.headers("Transfer-Encoding") or len(length) != 1 or not (length[0].isascii() and length[0].isdigit()):
        return Refusal(411, "say the length")
    if len(length[0]) > _MOST_DIGITS or int(length[0]) > most:
        return Refusal(413, f"more than {most} bytes")
    return None


def behind_secret(path: str, secret: str) -> str | None:
    """What is asked for behind the secret.

    Parameters
    ----------
    path : str
        Of a request.
    secret : str
        The first part of it.

    Returns
    -------
    str or None
        Plain words with slashes between, compared with known ones only; None where the secret does not stand before it.
    """
    plain = path.split("?", 1)[0].split("#", 1)[0]
    first, slash, rest = plain.removeprefix("/").partition("/")
    return rest if plain.startswith("/") and slash and _same(first, secret) else None


def _same(told: str, secret: str) -> bool:
    return hmac.compare_digest(told.encode("utf-8", "replace"), secret.encode("utf-8"))


def body_of(data: bytes) -> dict[str, Any] | Refusal:
    """The document of a request.

    Parameters
    ----------
    data : bytes
        All of it.

    Returns
    -------
    dict or Refusal
        An object of plain JSON: no NaN, no depth that a reader dies of.
    """
    try:
        value = json.loads(data.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError):
        return Refusal(400, "no JSON that can be read")
    return value if isinstance(value, dict) else Refusal(400, "no object of JSON")


def _no_number(word: str) -> float:
    raise ValueError(word)
