"""A plat underneath.

Laid by known points, told how well they fit, and no file but a picture of the folder is ever given out.
"""

from __future__ import annotations

import json
import struct
import tomllib
import zlib

import pytest

from siteplan.errors import InputError


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


def _sent(asking, data, page="", **more):
    headers = {"Content-Type": "application/octet-stream", "X-Siteplan-Table": asking.secret} | more
    status, told, _ = asking.raw("POST", f"/{asking.secret}/picture{page}", data, headers)
    return status, json.loads(told)


def test_a_picture_that_the_page_sends_lies_in_the_folder(alder):
    """Under a name of ours; another one beside it, the same one once; named by nothing until the page names it."""
    (alder.folder / "plat.jpg").write_bytes(b"somebody's own")
    site = (alder.folder / "site.toml").read_bytes()
    assert _sent(alder, _png(40, 30)) == (200, {"name": "plat.png"})
    assert _sent(alder, _png(41, 30)) == (200, {"name": "plat-2.png"})
    assert _sent(alder, _png(40, 30)) == (200, {"name": "plat.png"})
    assert (alder.folder / "plat.png").read_bytes() == _png(40, 30)
    assert (alder.folder / "plat.jpg").read_bytes() == b"somebody's own"
    assert (alder.folder / "site.toml").read_bytes() == site


def _pdf(tmp_path, *sizes):
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(str(tmp_path / "sent.pdf"), invariant=True)
    for size in sizes:
        canvas.setPageSize(size)
        canvas.line(0, 0, *size)
        canvas.showPage()
    canvas.save()
    return (tmp_path / "sent.pdf").read_bytes()


def test_a_page_of_a_pdf_becomes_the_picture(alder, tmp_path):
    pytest.importorskip("pypdfium2")
    data = _pdf(tmp_path, (72, 72), (144, 72))
    assert _sent(alder, data, "?page=2") == (200, {"name": "plat.png"})
    assert struct.unpack(">II", (alder.folder / "plat.png").read_bytes()[16:24]) == (400, 200)
    status, told = _sent(alder, data, "?page=3")
    assert (status, "which has 2" in told["refused"]) == (422, True)


def _lying(wide, high, data=b"\x00"):
    """A PNG whose head tells another size than its data hold."""
    whole = _png(2, 2)
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    head = struct.pack(">I", 13) + b"IHDR" + head + struct.pack(">I", zlib.crc32(b"IHDR" + head))
    body = zlib.compress(data)
    body = struct.pack(">I", len(body)) + b"IDAT" + body + struct.pack(">I", zlib.crc32(b"IDAT" + body))
    return whole[:8] + head + body + whole[-12:]


_HOSTILE = {
    "nothing": b"",
    "a page": b"<!doctype html><script>alert(1)</script>",
    "a drawing that runs": b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    "a moving picture": b"GIF89a\x01\x00\x01\x00\x00\x00\x00;",
    "a head alone": _png(40, 30)[:33],
    "cut short": _png(40, 30)[:-13],
    "more behind it": _png(40, 30) + b"PK\x03\x04",
    "a changed byte": _png(40, 30)[:-20] + b"\x00" + _png(40, 30)[-19:],
    "too little in it": _lying(40, 30),
    "far too much in it": _lying(4, 4, b"\x00" * 50_000_000),
    "larger than a screen's memory": _lying(29_000, 29_000),
    "a JPEG without its end": b"\xff\xd8\xff\xc0\x00\x11\x08\x00\x08\x00\x08\x03" + b"\x01\x22\x00" * 3,
    "no PDF": b"%PDF-1.7\n%%EOF\n",
    "a PDF of noise": b"%PDF-1.7\n" + bytes(range(256)) * 400,
}


@pytest.mark.parametrize("data", _HOSTILE.values(), ids=_HOSTILE)
def test_what_is_no_picture_is_refused_in_one_message(alder, bytes_of, data):
    before = bytes_of(alder.folder)
    status, told = _sent(alder, data)
    assert status == 422
    assert len(told["faults"]) == 1
    assert "Traceback" not in told["refused"]
    assert bytes_of(alder.folder) == before


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ({"Content-Type": "application/json"}, 415),
        ({"Content-Type": "image/png"}, 415),
        ({"X-Siteplan-Table": "guess"}, 403),
        ({"Origin": "http://attacker.example"}, 403),
        ({"Content-Length": "40000001"}, 413),
    ],
)
def test_a_picture_from_another_is_refused(alder, bytes_of, more, status):
    before = bytes_of(alder.folder)
    assert _sent(alder, _png(40, 30), **more)[0] == status
    assert _sent(alder, _png(40, 30), "/../site.toml")[0] == 415  # no path leads to another file
    assert bytes_of(alder.folder) == before


def test_without_the_optional_part_a_pdf_is_refused_plainly(alder, tmp_path, monkeypatch):
    monkeypatch.setattr("siteplan.underlay.page_image.find_spec", lambda _: None)
    status, told = _sent(alder, _pdf(tmp_path, (72, 72)))
    assert status == 422
    assert 'pip install "siteplan[pdf]"' in told["refused"]
    assert not (alder.folder / "plat.png").exists()


def test_pictures_of_every_make_are_proven():
    """What a general library writes: every kind of colour, interlaced or not, a JPEG in one scan or in several."""
    import io

    from siteplan.underlay.proven_image import proven_image

    images = pytest.importorskip("PIL.Image")
    noise = images.frombytes("RGB", (61, 43), bytes((k * 7919) % 251 for k in range(61 * 43 * 3)))
    for mode in ("1", "L", "P", "RGB", "RGBA", "LA"):
        held = io.BytesIO()
        noise.convert(mode).save(held, "PNG")
        assert proven_image(held.getvalue(), "x") == ("png", 61, 43)
    for given in ({}, {"progressive": True}, {"restart_marker_blocks": 2}, {"exif": b"Exif\x00\x00" + b"\x00" * 900}):
        held = io.BytesIO()
        noise.save(held, "JPEG", **given)
        data = held.getvalue()
        assert proven_image(data + b"a camera's preview", "x") == ("jpeg", 61, 43)
        with pytest.raises(InputError, match="cut short or damaged"):
            proven_image(data[: 2 * len(data) // 3], "x")
    # the seven passes of 5 x 3 pixels, columns and rows counted by hand on paper; each row with its filter's byte
    passes = [(1, 1), (1, 1), (0, 0), (1, 1), (3, 1), (2, 2), (5, 1)]
    rows = b"".join((b"\x00" + b"\x00" * wide) * high for wide, high in passes)
    assert proven_image(_laced(5, 3, rows), "x") == ("png", 5, 3)
    with pytest.raises(InputError, match="cut short or damaged"):
        proven_image(_laced(5, 3, rows + b"\x00"), "x")


def _laced(wide, high, rows):
    whole = _lying(wide, high, rows)
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 1)
    return whole[:16] + head + struct.pack(">I", zlib.crc32(b"IHDR" + head)) + whole[33:]
