"""Images laid on known points.

An exact similarity comes back, bad points are refused, sizes are read off the files' heads.
"""

from __future__ import annotations

import io
import json
import math
import re

import numpy as np
import pytest

from siteplan.cli.main import main
from siteplan.errors import InputError
from siteplan.underlay.fit import fitted_image
from siteplan.underlay.image_size import image_size

WIDE, HIGH = 1600, 1200
PICKS = [(100.0, 200.0), (1500.0, 260.0), (900.0, 1100.0), (300.0, 900.0)]


def known(picks, scale=0.25, turn=20.0, origin=(5000.0, 2000.0)):
    """Where picks lie under a scale, a turn (counter-clockwise) and a place of the upper left corner, written out."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return [(origin[0] + scale * (c * x + s * y), origin[1] + scale * (s * x - c * y)) for x, y in picks]


@pytest.mark.parametrize("count", [2, 3, 4])
def test_an_exact_similarity_comes_back(count):
    fit = fitted_image(PICKS[:count], known(PICKS)[:count], WIDE, HIGH, "x")
    assert fit.scale == pytest.approx(0.25)
    assert math.degrees(fit.turn) == pytest.approx(20)
    assert fit.origin == pytest.approx((5000, 2000))
    assert fit.place(777, 333) == pytest.approx(known([(777, 333)])[0])
    assert all(math.hypot(*one) < 1e-9 for one in fit.residuals)
    assert fit.checked == (count > 2)


def test_residuals_are_those_of_least_squares():
    """Against the same problem put to a general solver: four unknowns, two equations a point."""
    places = [
        (x + dx, y + dy)
        for (x, y), (dx, dy) in zip(known(PICKS), [(0.4, 0), (-0.2, 0.3), (0, -0.5), (0.1, 0.1)], strict=True)
    ]
    fit = fitted_image(PICKS, places, WIDE, HIGH, "x")
    rows, right = [], []
    for (x, y), (e, n) in zip(PICKS, places, strict=True):
        rows += [[x, y, 1, 0], [-y, x, 0, 1]]
        right += [e, n]
    solved, *_ = np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)
    off = (np.array(rows) @ solved - right).reshape(-1, 2)
    assert np.array(fit.residuals) == pytest.approx(off, abs=1e-9)
    assert fit.spread == pytest.approx(math.sqrt((off**2).sum() / 2))  # eight figures, four used up: two points over


@pytest.mark.parametrize(
    ("picks", "places", "says"),
    [
        (PICKS[:1], known(PICKS[:1]), "gives 1 known points"),
        ([PICKS[0], (101.0, 201.0)], known(PICKS[:2]), "within 1 pixels of one another"),
        (PICKS[:2], [(1.0, 2.0), (1.0, 2.0)], "stand at one place"),
        ([(-5.0, 3.0), PICKS[1]], known(PICKS[:2]), "off the image"),
        (PICKS[:3], [known(PICKS)[k] for k in (1, 0, 2)], "mistaken for one another"),
        (PICKS[:3], [(n, e) for e, n in known(PICKS[:3])], "northing stands where easting should"),
    ],
)
def test_points_that_cannot_place_it_are_refused(picks, places, says):
    with pytest.raises(InputError, match=says):
        fitted_image(picks, places, WIDE, HIGH, "x")


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"exif": b"Exif\x00\x00" + b"\x00" * 9000}])
def test_sizes_are_read_off_the_head(tmp_path, options):
    image = pytest.importorskip("PIL.Image").new("L", (321, 123), 128)
    held = io.BytesIO()
    image.save(held, "JPEG", **options)
    path = tmp_path / "a.png"  # its name says nothing
    path.write_bytes(held.getvalue())
    assert image_size(path, "a") == ("jpeg", 321, 123)
    image.save(path, "PNG")
    assert image_size(path, "a") == ("png", 321, 123)
    path.write_bytes(held.getvalue()[:20])
    with pytest.raises(InputError, match="cut short"):
        image_size(path, "a")
    path.write_bytes(b"GIF89a")
    with pytest.raises(InputError, match="neither a PNG"):
        image_size(path, "a")


@pytest.mark.parametrize("mark", [*range(0xC0, 0xD8), *range(0xDA, 0x100)])  # D8, D9: start and end of an image
def test_the_size_stands_in_a_start_of_frame_and_in_no_other_segment(tmp_path, mark):
    """ITU-T T.81 (1992), table B.1 (memory): frames are C0 to CF but C4 (DHT), C8 (JPG) and CC (DAC).

    RSTm, SOI stand alone.
    """
    frame = bytes([8]) + (200).to_bytes(2) + (100).to_bytes(2) + b"\x01\x01\x11\x00"
    true = b"\xff\xc0" + (2 + len(frame)).to_bytes(2) + frame.replace((200).to_bytes(2), (222).to_bytes(2))
    alone = mark in range(0xD0, 0xD8)
    first = bytes([0xFF, mark]) + (b"" if alone or mark == 0xFF else (2 + len(frame)).to_bytes(2) + frame)
    path = tmp_path / "a.jpg"
    path.write_bytes(b"\xff\xd8" + first + true)
    if mark == 0xFF:  # a byte of fill before the next marker (T.81, B.1.1.2)
        path.write_bytes(b"\xff\xd8\xff" + true)
    framed = mark in range(0xC0, 0xD0) and mark not in {0xC4, 0xC8, 0xCC}
    assert image_size(path, "a") == ("jpeg", 100, 200 if framed else 222)


@pytest.mark.parametrize(("side", "taken"), [(30_000, True), (30_001, False)])
def test_a_picture_has_at_most_thirty_thousand_pixels_a_side(tmp_path, side, taken):
    # W3C PNG, third edition, 5.2 and 11.2.1 (memory): signature, then IHDR of 13 bytes with width and height first
    head = b"\x89PNG\r\n\x1a\n" + (13).to_bytes(4) + b"IHDR" + side.to_bytes(4) + (7).to_bytes(4)
    (tmp_path / "a").write_bytes(head)
    if taken:
        assert image_size(tmp_path / "a", "a") == ("png", side, 7)
    else:
        with pytest.raises(InputError, match="at most 30000 pixels a side"):
            image_size(tmp_path / "a", "a")


@pytest.mark.parametrize(("segments", "found"), [(60, True), (70, False)])
def test_a_frame_is_looked_for_in_the_first_four_megabytes(tmp_path, segments, found):
    """A file may be of any length.

    Of a picture that names its size after 64 segments of the longest nobody waits for the rest.
    """
    longest = b"\xff\xe1\xff\xff" + bytes(0xFFFD)  # 65 537 bytes each
    frame = b"\xff\xc0\x00\x0b\x08" + (40).to_bytes(2) + (30).to_bytes(2) + b"\x01\x01\x11\x00"
    (tmp_path / "a").write_bytes(b"\xff\xd8" + longest * segments + frame)
    if found:
        assert image_size(tmp_path / "a", "a") == ("jpeg", 30, 40)
    else:
        with pytest.raises(InputError, match="cut short"):
            image_size(tmp_path / "a", "a")


def test_picks_within_a_twentieth_of_the_diagonal_are_refused():
    # the picture's diagonal is 2000 pixels: a twentieth is 100 (docs/new-site.md)
    near, far = [(100.0, 200.0), (199.0, 200.0)], [(100.0, 200.0), (201.0, 200.0)]
    assert fitted_image(far, known(far), WIDE, HIGH, "x").scale == pytest.approx(0.25)
    with pytest.raises(InputError, match="within 99 pixels of one another"):
        fitted_image(near, known(near), WIDE, HIGH, "x")


@pytest.mark.parametrize(("count", "taken"), [(50, True), (51, False)])
def test_fifty_points_are_enough(count, taken):
    picks = [(30.0 * k, 20.0 * (k % 7)) for k in range(count)]
    if taken:
        assert fitted_image(picks, known(picks), WIDE, HIGH, "x").checked
    else:
        with pytest.raises(InputError, match="gives 51 known points"):
            fitted_image(picks, known(picks), WIDE, HIGH, "x")


@pytest.mark.parametrize(("share", "taken"), [(0.09, True), (0.12, False)])
def test_points_that_fit_worse_than_a_tenth_of_their_spread_are_mistaken(share, taken):
    """Two picks each way along a line, the inner two off it by the same to both sides.

    What is off, no scale and turn takes up.
    """
    picks = [(100.0, 600.0), (500.0, 600.0), (1100.0, 600.0), (1500.0, 600.0)]
    # along the line the moments about the middle are 2 (700^2 + 300^2); off it +h, -h, -h, +h adds no moment and is no
    # turn
    off = share * math.sqrt(2 * (700**2 + 300**2) / 4) / math.sqrt(1 - share**2)
    places = [(column, off * sign) for (column, _), sign in zip(picks, (1, -1, -1, 1), strict=True)]
    if taken:
        fit = fitted_image(picks, places, WIDE, HIGH, "x")
        assert [north for _, north in fit.residuals] == pytest.approx([-off, off, off, -off])
    else:
        with pytest.raises(InputError, match="mistaken for one another"):
            fitted_image(picks, places, WIDE, HIGH, "x")


@pytest.mark.parametrize(
    ("picks", "times"),
    [
        # about the middle, half a diagonal away from every corner: sqrt(1/n + (d/2)^2 / moment), moment n (d/2)^2 for n
        # corners
        ([(0.0, 0.0), (float(WIDE), float(HIGH))], 1.0),
        ([(0.0, 0.0), (float(WIDE), 0.0), (float(WIDE), float(HIGH)), (0.0, float(HIGH))], math.sqrt(0.5)),
    ],
)
def test_what_a_slip_of_a_pick_does_to_the_farthest_corner(picks, times):
    assert fitted_image(picks, known(picks), WIDE, HIGH, "x").corner == pytest.approx(times)


def test_a_plat_begun_is_placed_by_its_points_and_its_fit_is_told(tmp_path, capsys):
    image = pytest.importorskip("PIL.Image").new("L", (WIDE, HIGH), 128)
    image.save(tmp_path / "scan.png")
    folder = tmp_path / "lot"
    assert main(["new", str(folder), "--plat", str(tmp_path / "scan.png"), "--unit", "ft"]) == 0
    assert main(["check", str(folder)]) == 1
    assert "plat.png is to draw over and has no place yet" in capsys.readouterr().out
    text = (folder / "site.toml").read_text(encoding="utf-8")
    rows = [[*pick, *place] for pick, place in zip(PICKS, known(PICKS), strict=True)]
    rows[3][2] += 0.5
    placed = re.sub(r"# image_points = .*", f"image_points = {json.dumps(rows)}", text)
    (folder / "site.toml").write_text(placed, encoding="utf-8")
    assert main(["check", str(folder)]) == 1
    told = capsys.readouterr().out
    corner = re.search(r"plat\.png lies from N ([\d.]+) E ([\d.]+) \(upper left\)", told)
    assert [float(one) for one in corner.groups()] == pytest.approx([2000, 5000], abs=0.5)
    assert "point 4 worst" in told
    (folder / "site.toml").write_text(placed.replace(json.dumps(rows), "[[1, 2, 3]]"), encoding="utf-8")
    assert main(["check", str(folder)]) == 2
    assert "expected rows of four numbers" in capsys.readouterr().err


def pdf(pages):
    """A PDF of blank pages of these sizes [points], with one black square in the corner of each.

    By the standard's plainest form.
    """
    objects = ["<< /Type /Catalog /Pages 2 0 R >>"]
    kids = " ".join(f"{3 + 2 * k} 0 R" for k in range(len(pages)))
    objects.append(f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>")
    for k, (wide, high) in enumerate(pages):
        objects.append(f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {wide} {high}] /Contents {4 + 2 * k} 0 R >>")
        drawn = "0 0 36 36 re f"
        objects.append(f"<< /Length {len(drawn)} >> stream\n{drawn}\nendstream")
    text, places = "%PDF-1.4\n", []
    for number, held in enumerate(objects, 1):
        places.append(len(text))
        text += f"{number} 0 obj {held} endobj\n"
    rows = "".join(f"{place:010d} 00000 n \n" for place in places)
    return (
        f"{text}xref\n0 {len(objects) + 1}\n0000000000 65535 f \n{rows}trailer << /Size {len(objects) + 1} /Root "
        f"1 0 R >>\nstartxref\n{len(text)}\n%%EOF"
    ).encode()


def test_a_page_of_a_pdf_becomes_a_picture(tmp_path, capsys):
    pytest.importorskip("pypdfium2")
    image = pytest.importorskip("PIL.Image")
    (tmp_path / "plat.pdf").write_bytes(pdf([(72, 72), (144, 72)]))
    folder = tmp_path / "lot"
    assert main(["new", str(folder), "--plat", str(tmp_path / "plat.pdf"), "--page", "2"]) == 0
    assert 'image = "plat.png"' in (folder / "site.toml").read_text(encoding="utf-8")
    with image.open(folder / "plat.png") as made:
        assert made.size == (400, 200)  # 2 in by 1 in at 200 dots
        assert made.convert("L").getpixel((20, 180)) == 0  # the square, half an inch, lies at the page's lower left
        assert made.convert("L").getpixel((20, 20)) == 255
    assert main(["new", str(tmp_path / "other"), "--plat", str(tmp_path / "plat.pdf"), "--page", "3"]) == 2
    assert "is no page of plat.pdf, which has 2" in capsys.readouterr().err
    (tmp_path / "plat.pdf").write_bytes(b"%PDF-1.4 cut short")
    assert main(["new", str(tmp_path / "other"), "--plat", str(tmp_path / "plat.pdf")]) == 2
    assert not (tmp_path / "other").exists()


def test_without_the_optional_part_a_pdf_is_copied_and_its_owner_told(tmp_path, monkeypatch):
    monkeypatch.setattr("siteplan.underlay.page_image.find_spec", lambda _: None)
    (tmp_path / "plat.pdf").write_bytes(pdf([(72, 72)]))
    folder = tmp_path / "lot"
    assert main(["new", str(folder), "--plat", str(tmp_path / "plat.pdf")]) == 0
    text = (folder / "site.toml").read_text(encoding="utf-8")
    assert 'image = "plat.pdf"' in text
    assert 'pip install "siteplan[pdf]"' in text
    assert (folder / "plat.pdf").read_bytes() == (tmp_path / "plat.pdf").read_bytes()
