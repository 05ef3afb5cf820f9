"""A plat underneath: laid by known points, told how well they fit, and no file but a picture of the folder is ever given out."""

from __future__ import annotations

import struct
import tomllib
import zlib

import pytest


def _png(wide, high):
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = (b"\x00" + b"\xff" * wide) * high
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )


def _named(asking, name, points=None):
    def edit(document):
        document["settings"] |= {"plat.image": name, "plat.image_points": points or []}

    return asking.change(edit)


def test_it_lies_on_its_known_points(alder):
    (alder.folder / "plat.png").write_bytes(_png(400, 300))
    # two pixels a foot, right way up: upper left corner at E 1210000, N 205150
    points = [[0, 0, 1210000, 205150], [400, 0, 1210200, 205150], [400, 300, 1210200, 205000.6]]
    assert _named(alder, "plat.png", points[:2])[0] == 200
    told = alder.get("under")[1]["picture"]
    assert told["corners"] == [pytest.approx(p) for p in ([1210000, 205150], [1210200, 205150], [1210000, 205000])]
    assert not told["checked"]
    assert _named(alder, "plat.png", points)[0] == 200
    told = alder.get("under")[1]["picture"]
    assert told["checked"]
    assert 0.1 < told["spread"] < 0.6
    assert len(told["residuals"]) == 3
    assert tomllib.loads((alder.folder / "site.toml").read_text())["plat"]["image_points"] == points
    status, data, headers = alder.raw("GET", f"/{alder.secret}/picture")
    assert (status, headers["Content-Type"], data) == (200, "image/png", _png(400, 300))
    # the plan's own reading takes no notice of it but as evidence for units
    assert alder.post("answer", {"quick": True})[1]["faults"] == []


@pytest.mark.parametrize(
    "name",
    [
        "../plat.png",
        "/etc/passwd",
        "site.toml",
        "features.geojson",
        "ground.tif",
        "nothing.png",
        "plat.png\x00",
        "http://attacker.example/x.png",
        ".",
    ],
)
def test_no_other_file_is_given_out(alder, tmp_path, name):
    (tmp_path / "plat.png").write_bytes(_png(4, 4))
    _named(alder, name)
    status, data, _ = alder.raw("GET", f"/{alder.secret}/picture")
    assert status == 404
    assert b"PNG" not in data
    assert alder.get("state")[0] == 200


def test_a_pdf_is_no_picture(alder):
    (alder.folder / "plat.pdf").write_bytes(b"%PDF-1.4\n%%EOF\n")
    _named(alder, "plat.pdf")
    assert alder.raw("GET", f"/{alder.secret}/picture")[0] == 404
    assert alder.get("under")[1]["picture"]["wide"] == 0


@pytest.mark.parametrize("points", [7, [[1, 2, 3]], [["a", 0, 0, 0]], [[0, 0, 1e300, 0]], [[0, 0, 0, 0]] * 60])
def test_points_that_are_none(alder, bytes_of, points):
    before = bytes_of(alder.folder)
    document = alder.get("state")[1]
    body = {key: document[key] for key in ("version", "features", "heights", "settings")}
    body["settings"] = {**body["settings"], "plat.image_points": points}
    assert alder.post("change", body)[0] == 422
    assert bytes_of(alder.folder) == before
