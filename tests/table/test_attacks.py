"""What no other page, name or hand may do: everything is refused, and nothing is written."""

from __future__ import annotations

import json
import socket
import time

import pytest


def _whole(asking):
    document = asking.get("state")[1]
    return {key: document[key] for key in ("version", "features", "heights", "settings")}


def _moved(asking):
    body = _whole(asking)
    point = next(one for one in body["features"] if one["shape"] == "Point")
    point["xy"] = [[point["xy"][0][0] + 1, point["xy"][0][1]]]
    return body


def test_the_page_itself_is_let_in(alder):
    status, _, headers = alder.raw("GET", f"/{alder.secret}/")
    assert status == 200
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert alder.post("change", _moved(alder))[0] == 200
    assert (alder.folder / ".siteplan-history").is_dir()


@pytest.mark.parametrize(
    ("headers", "leave", "status"),
    [
        ({"Origin": "http://attacker.example"}, (), 403),
        ({"Origin": "null"}, (), 403),
        ({"Origin": "http://127.0.0.1:1"}, (), 403),
        ({"Origin": "https://127.0.0.1"}, (), 403),
        ({"Sec-Fetch-Site": "cross-site"}, (), 403),
        ({"Sec-Fetch-Site": "same-site"}, (), 403),
        ({"Host": "rebound.example"}, (), 403),
        ({"Host": "127.0.0.1"}, (), 403),
        ({"Host": "127.0.0.1.rebound.example"}, (), 403),
        ({}, ("Host",), 403),
        ({}, ("X-Siteplan-Table",), 403),
        ({"X-Siteplan-Table": "guess"}, (), 403),
        ({"X-Siteplan-Table": ""}, (), 403),
        ({"Content-Type": "text/plain"}, (), 415),
        ({"Content-Type": "application/x-www-form-urlencoded"}, (), 415),
        ({}, ("Content-Type",), 415),
        ({"Content-Length": "99999999999"}, (), 413),
        ({"Content-Length": "-5"}, (), 411),
        ({"Content-Length": "ten"}, (), 411),
        ({"Transfer-Encoding": "chunked"}, (), 411),
    ],
)
def test_a_change_by_another_is_refused(alder, bytes_of, headers, leave, status):
    body = json.dumps(_moved(alder)).encode()
    before = bytes_of(alder.folder)
    told = alder.raw("POST", f"/{alder.secret}/change", body, headers, leave=leave)
    assert told[0] == status, told
    assert bytes_of(alder.folder) == before


@pytest.mark.parametrize(
    "headers", [{"Host": "rebound.example"}, {"Origin": "http://attacker.example"}, {"Sec-Fetch-Site": "cross-site"}]
)
def test_nothing_is_read_by_another(alder, headers):
    for path in ("", "state", "table.js", "plan/map.html"):
        status, data, _ = alder.raw("GET", f"/{alder.secret}/{path}", headers=headers)
        assert status == 403
        assert b"Alder" not in data


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/state",
        "//state",
        "/wrong/state",
        "/{secret}",
        "/{secret}x/state",
        "/{secret}/../state",
        "/{secret}/..%2f..%2fetc/passwd",
        "/{secret}/plan/../site.toml",
        "/{secret}/plan/..%2fsite.toml",
        "/{secret}/site.toml",
        "/{secret}/features.geojson",
        "/{secret}//etc/passwd",
        "/{secret}/plan/plan.json/..",
        "/{secret}/table.js/../state",
        "/{secret}/assets/table.js",
        "/{secret}/\x00state",
        "http://attacker.example/{secret}/state",
    ],
)
def test_paths_lead_nowhere_else(alder, path):
    line = socket.create_connection(("127.0.0.1", alder.port), timeout=10)
    line.sendall(
        f"GET {path.format(secret=alder.secret)} HTTP/1.1\r\nHost: 127.0.0.1:{alder.port}\r\nConnection: close\r\n\r\n".encode()
    )
    data = b""
    while part := line.recv(65536):
        data += part
    line.close()
    assert data.split(b" ", 2)[1] in {b"400", b"403", b"404"}, data[:200]
    assert b"Alder" not in data
    assert b"root:" not in data


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "HEAD", "TRACE", "CONNECT", "X" * 40])
def test_other_methods_are_refused(alder, bytes_of, method):
    before = bytes_of(alder.folder)
    status, data, headers = alder.raw(method, f"/{alder.secret}/change", b"{}")
    assert status in {400, 403, 405, 501}
    assert "Access-Control-Allow-Origin" not in headers
    assert b"<" not in data
    assert bytes_of(alder.folder) == before


_BAD_BODIES = {
    "no json": b"{",
    "no utf-8": b"\xff\xfe{}",
    "a list": b"[]",
    "nan": b'{"version": NaN}',
    "deep": b"[" * 200_000,
    "nothing": b"",
    "no version": b"{}",
    "a text for a version": b'{"version": "1"}',
}


@pytest.mark.parametrize("body", _BAD_BODIES.values(), ids=_BAD_BODIES)
def test_bodies_that_are_none(alder, bytes_of, body):
    before = bytes_of(alder.folder)
    status, data, _ = alder.raw("POST", f"/{alder.secret}/change", body)
    assert status in {400, 409, 411, 422}, data
    assert "refused" in json.loads(data)
    assert bytes_of(alder.folder) == before


def _with(**features):
    return lambda one: one.update(features)


_BAD_FEATURES = {
    "another kind": _with(properties={"kind": "castle"}),
    "a kind of another shape": _with(properties={"kind": "lot"}),
    "no properties": _with(properties=7),
    "a far coordinate": _with(xy=[[1e300, 0]]),
    "a truth for a coordinate": _with(xy=[[True, 0]]),
    "three numbers": _with(xy=[[1, 2, 3]]),
    "two places": _with(xy=[[1, 2], [3, 4]]),
    "no place": _with(xy=[]),
    "an object for an attribute": _with(properties={"kind": "downspout", "note": {"a": 1}}),
    "an endless attribute": _with(properties={"kind": "downspout", "roof_area": 1e308 * 10}),
    "a bad id": _with(id="../../x"),
    "a file elsewhere": _with(id="p1", file="../../outside.geojson", xy=[["a", 0]]),
}


@pytest.mark.parametrize("spoil", _BAD_FEATURES.values(), ids=_BAD_FEATURES)
def test_features_that_are_none(alder, bytes_of, spoil):
    body = _moved(alder)
    spoil(next(one for one in body["features"] if one["properties"]["kind"] == "downspout"))
    before = bytes_of(alder.folder)
    data = json.dumps(body).encode()
    status, told, _ = alder.raw("POST", f"/{alder.secret}/change", data)
    assert status in {400, 422}, told
    assert bytes_of(alder.folder) == before


@pytest.mark.parametrize(
    "key",
    [
        "ground.grid",
        "ground.shots",
        "features.files",
        "rule_profile",
        "rules.nothing",
        "pipes.x",
        "a.b.c",
        "",
        "rules.min_cover_in\n[x]",
    ],
)
def test_settings_that_no_form_holds(alder, bytes_of, key):
    body = _whole(alder)
    body["settings"] = {**body["settings"], key: "../../etc/passwd"}
    before = bytes_of(alder.folder)
    assert alder.post("change", body)[0] == 422
    assert bytes_of(alder.folder) == before


def test_a_file_of_the_page_s_own_choice_is_not_written(alder, tmp_path):
    """A new feature goes to the site's own drawing, whatever file the page names."""
    body = _whole(alder)
    for name in ("../outside.geojson", "/tmp/outside.geojson", "site.toml", "ground.tif"):
        body["features"] = [
            *body["features"],
            {
                "id": f"p{len(body['features'])}",
                "file": name,
                "properties": {"kind": "tree"},
                "shape": "Point",
                "xy": [[1210010, 205010]],
                "locked": False,
            },
        ]
    assert alder.post("change", body)[0] == 200
    assert sorted(path.name for path in alder.folder.iterdir() if not path.name.startswith(".")) == [
        "features.geojson",
        "ground.tif",
        "site.toml",
    ]
    assert [path.name for path in tmp_path.iterdir()] == ["alder"]
    assert (alder.folder / "features.geojson").read_text().count('"tree"') == 5


def test_a_slow_hand_holds_nobody_else(alder):
    """A request that never ends is given up, and others are answered meanwhile."""
    line = socket.create_connection(("127.0.0.1", alder.port), timeout=10)
    line.sendall(f"POST /{alder.secret}/change HTTP/1.1\r\nHost: 127.0.0.1:{alder.port}\r\n".encode())
    started = time.monotonic()
    assert alder.get("alive")[0] == 200
    assert time.monotonic() - started < 5
    line.close()
