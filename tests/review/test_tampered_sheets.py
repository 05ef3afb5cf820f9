"""Sheets, folder and survey edited in some ninety ways that leave plan.json alone.

Each is a fail, or named by a flag where nothing reads otherwise.
"""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import json
import re
import shutil
import struct
import zlib
from pathlib import Path

import pytest

from siteplan.cli.main import main
from siteplan.errors import InputError, InputErrors
from siteplan.review.against_site import input_findings
from siteplan.review.same_files import folder_findings, map_findings, schedule_findings
from siteplan.stored.folder_of import read_plan
from siteplan.survey.folder import read_site

LOT = Path(__file__).parents[2] / "sample_sites" / "alder-court"
MARK = "\ufeff"


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    out = tmp_path_factory.mktemp("sheets") / "plan"
    assert main(["plan", str(LOT), "--out", str(out), "--date", "2026-05-01"]) == 0
    return out, read_site(LOT)


def rows_of(text):
    return [*csv.reader(io.StringIO(text.removeprefix(MARK)))]


def written(rows, **how):
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n", **how).writerows(rows)
    return MARK + out.getvalue()


def rows(change, **how):
    """A change to the rows of the schedule, header first."""

    def edit(text):
        listed = rows_of(text)
        return written(change(listed) or listed, **how)

    return edit


def cell(head, change, at=3):
    def edit(listed):
        k = next(i for i, name in enumerate(listed[0]) if name.startswith(head))
        row = next(row for row in listed[at:] if row[k])
        row[k] = change(row[k])

    return rows(edit)


def moved(listed, a, b):
    for row in listed:
        row[a], row[b] = row[b], row[a]


def once(old, new):
    def edit(text):
        assert re.search(old, text), old
        return re.sub(old, new, text, count=1)

    return edit


FAIL, FLAG = "fail", "flag"
SCHEDULE = {
    "columns changed over with their heads": (rows(lambda r: moved(r, 7, 11)), FAIL),
    "two heads changed over": (rows(lambda r: moved(r[:1], 7, 11)), FAIL),
    "another unit in a head": (once("invert_ft", "invert_m"), FAIL),
    "another case in a head": (once("invert_ft", "Invert_ft"), FAIL),
    "another system in a head": (once("EPSG_6539", "EPSG_6538"), FAIL),
    "a column more, empty": (rows(lambda r: [[*row, ""] for row in r]), FAIL),
    "empty cells at the end of each row": (rows(lambda r: [r[0], *([*row, ""] for row in r[1:])]), FLAG),
    "mark at the front taken off": (lambda t: t.removeprefix(MARK), FLAG),
    "mark at the front twice": (lambda t: MARK + t, FAIL),
    "a blank row at the end": (lambda t: t + "\r\n", FAIL),
    "a row of commas at the end": (rows(lambda r: [*r, [""] * len(r[0])]), FAIL),
    "a stake past the end": (rows(lambda r: [*r, [r[-1][0], "99.00", "0+99.0", *r[-1][3:]]]), FAIL),
    "first stake twice": (rows(lambda r: [*r[:2], *r[1:]]), FAIL),
    "one line taken out": (rows(lambda r: [row for row in r if row[0] != "L2"]), FAIL),
    "sorted by invert": (rows(lambda r: [r[0], *sorted(r[1:], key=lambda row: row[7])]), FAIL),
    "upstream first": (rows(lambda r: [r[0], *reversed(r[1:])]), FAIL),
    "lines renamed to one another": (
        rows(lambda r: [[{"L1": "L2", "L2": "L1"}.get(row[0], row[0]), *row[1:]] for row in r]),
        FAIL,
    ),
    "decimal commas": (cell("invert", lambda c: c.replace(".", ",")), FAIL),
    "semicolons": (lambda t: written(rows_of(t), delimiter=";"), FAIL),
    "tabs": (lambda t: written(rows_of(t), delimiter="\t"), FAIL),
    "other line ends": (lambda t: t.replace("\r\n", "\n") if "\r\n" in t else t.replace("\n", "\r\n"), FLAG),
    "every cell in quotes": (lambda t: written(rows_of(t), quoting=csv.QUOTE_ALL), FLAG),
    "blanks round a figure": (cell("invert", lambda c: f" {c} "), FAIL),
    "a longer minus": (cell("cover", lambda c: "\u2212" + c.lstrip("-"), at=1), FAIL),
    "a digit of another script": (cell("cut_to", lambda c: c[:-1] + "\uff15"), FAIL),
    "an unseen letter": (cell("point", lambda c: c + "\u200b"), FAIL),
    "a line inside a cell": (cell("point", lambda c: c + "\nlay flat"), FAIL),
    "another way about of letters": (cell("invert", lambda c: "\u202e" + c), FAIL),
    "beddings blank": (rows(lambda r: [[*row[:15], "" if i else row[15], *row[16:]] for i, row in enumerate(r)]), FAIL),
    "surer": (cell("state", lambda c: c.replace("95", "99")), FAIL),
    "no flow": (cell("flow", lambda c: "0.0"), FAIL),
    "feet and inches alone": (cell("cut_ft_in", lambda c: c.replace("1/", "3/") if "1/" in c else "0'-1\""), FAIL),
    "a last digit": (cell("invert", lambda c: f"{float(c) + 0.01:.2f}"), FAIL),
    "a figure to one digit less": (cell("invert", lambda c: c[:-1]), FAIL),
    "percent as ratio": (cell("grade", lambda c: f"{float(c) / 100:.4f}"), FAIL),
    "a remark on top": (lambda t: MARK + "# checked and approved\r\n" + t.removeprefix(MARK), FAIL),
    "sixteen bit letters": (lambda t: t.encode("utf-16"), FAIL),
    "nought byte": (lambda t: t.replace("L1,", "L1\0,", 1), FAIL),
    "nothing": (lambda t: "", FAIL),
    "a formula as station": (cell("station", lambda c: f"=1*{c}"), FAIL),
}


def data_of(change):
    """A change to the map's data block."""

    def edit(text):
        found = re.search(r'(id="plan-data">)(.*?)(</script>)', text, re.DOTALL)
        data = json.loads(found[2])
        change(data)
        return text[: found.start(2)] + json.dumps(data, separators=(",", ":")) + text[found.end(2) :]

    return edit


def parts(value):
    if isinstance(value, dict):
        yield value
        for item in value.values():
            yield from parts(item)
    elif isinstance(value, list):
        for item in value:
            yield from parts(item)


def chart(data):
    return next(part for part in parts(data["lines"]) if {"station", "invert"} <= set(part))


def a_little_deeper(data):
    held = chart(data)["invert"]
    held[:] = [value - 0.0015 for value in held]


def one_digit(data):
    part = next(p for p in parts(data) for v in p.values() if isinstance(v, str) and re.search(r"\d\.\d\d ft", v))
    key = next(k for k, v in part.items() if isinstance(v, str) and re.search(r"\d\.\d\d ft", v))
    part[key] = re.sub(
        r"(\d\.\d)(\d) ft", lambda m: f"{m[1]}{(int(m[2]) + 1) % 10 if m[2] != '9' else 8} ft", part[key], count=1
    )


def own_script(text):
    """A script of the page's own changed, its digest in the policy put right."""
    script = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)[-1]
    other = script + "\n/* quieter */"
    digests = [base64.b64encode(hashlib.sha256(one.encode()).digest()).decode() for one in (script, other)]
    assert digests[0] in text
    return text.replace(script, other).replace(*digests)


def row_hidden(text):
    return once(r"<tr>(?=<td)", '<tr style="display:none">')(text)


MAP = {
    "another lot in the title": (once("<title>[^<]*", "<title>Alder Court, lot 8"), FAIL),
    "another date": (once("2026-05-01", "2026-06-01"), FAIL),
    "a second table": (once("(?=<table)", "<table><tr><td>0+10.0</td><td>98.00</td></tr></table>"), FAIL),
    "a row hidden": (row_hidden, FAIL),
    "a row commented out": (once(r"(<tr><td.*?</tr>)", r"<!-- \1 -->"), FAIL),
    "a value moved to an attribute": (once(r"<td([^>]*)>([^<]+)</td>", r'<td\1 title="\2"></td>'), FAIL),
    "a value in another attribute": (once('data-head="[^"]*"', 'data-head="cut"'), FAIL),
    "a section hidden": (once("<section", "<section hidden"), FAIL),
    "a style that hides": (once("</style>", "li{display:none}</style>"), FAIL),
    "white on white": (once("<body", '<body style="color:#fff"'), FAIL),
    "another unit in a head": (once(r"\bft</th>|\(ft\)|, ft", "m"), FAIL),
    "a data block before": (
        once('(?=<script type="application/json")', '<script type="application/json" id="plan-data">{}</script>'),
        FAIL,
    ),
    "a data block after": (once("</body>", '<script type="application/json" id="plan-data">{}</script></body>'), FAIL),
    "a mark-up letter set free": (once("&lt;|&gt;|&amp;|&quot;|&#39;|&#x27;", '"'), FAIL),
    "a letter written by its number": (once("Alder", "&#65;lder"), FAIL),
    "letters the other way about": (once("Before digging", "\u202eBefore digging"), FAIL),
    "a hair deeper in the data": (data_of(a_little_deeper), FAIL),
    "one digit in the data's words": (data_of(one_digit), FAIL),
    "a key more in the data": (data_of(lambda d: d.update(approved="yes")), FAIL),
    "a line less in the data": (data_of(lambda d: d["lines"].pop()), FAIL),
    "data in another order": (data_of(lambda d: d.update(lines=d.pop("lines"))), FLAG),
    "policy taken out": (once('<meta http-equiv="Content-Security-Policy"[^>]*>', ""), FAIL),
    "policy widened": (once("script-src ", "script-src * "), FAIL),
    "a script changed with its digest": (own_script, FAIL),
    "a picture from elsewhere": (once("</body>", '<img src="https://example.org/a.png"></body>'), FAIL),
    "a link to another plan": (once("</body>", '<a href="plan2.html">superseded, see here</a></body>'), FAIL),
    "another base": (once("<head>", '<head><base href="https://example.org/">'), FAIL),
    "sent elsewhere": (once("<head>", '<head><meta http-equiv="refresh" content="0;url=x.html">'), FAIL),
    "a page inside": (once("</body>", '<iframe src="x.html"></iframe></body>'), FAIL),
    "a drawn path moved": (once(r'd="M([\d.]+)', r'd="M1\1'), FAIL),
    "another colour": (once(r"#[0-9a-f]{6}\b", "#ffffff"), FAIL),
    "another letter code": (once('charset="?utf-8"?', 'charset="latin-1"'), FAIL),
    "words after the end": (lambda t: t + "<p>grade checked</p>", FAIL),
    "mark at the front": (lambda t: MARK + t, FAIL),
    "a heading's words": (once("<h1[^>]*>", r"\g<0>As built: "), FAIL),
    "blank lines at the end": (lambda t: t + "\n\n", FAIL),
    "eight bit letters": (lambda t: t.encode("latin-1", "replace"), FAIL),
}


def pictures(change):
    """A change to the bytes of the first picture on the map."""

    def edit(text):
        found = re.search(r"(data:image/png;base64,)([A-Za-z0-9+/=]+)", text)
        other = base64.b64encode(change(base64.b64decode(found[2]))).decode()
        return text[: found.start(2)] + other + text[found.end(2) :]

    return edit


def repacked(pixels=lambda held: held, after=b""):
    """The picture's pixels packed more tightly, as another build of the packer may."""

    def change(raw):
        start = raw.index(b"IDAT") - 4
        (size,) = struct.unpack_from(">I", raw, start)
        packed = zlib.compress(pixels(zlib.decompress(raw[start + 8 : start + 8 + size])), 9) + after
        part = struct.pack(">I", len(packed)) + b"IDAT" + packed + struct.pack(">I", zlib.crc32(b"IDAT" + packed))
        return raw[:start] + part + raw[start + 12 + size :]

    return change


MAP |= {
    "a pixel of the ground": (pictures(repacked(lambda held: held[:-1] + bytes([held[-1] ^ 1]))), FAIL),
    "bytes behind the pixels": (pictures(repacked(after=b"x")), FAIL),
    "a remark in the picture": (
        pictures(lambda raw: raw[:33] + b"\0\0\0\1tEXtx" + struct.pack(">I", zlib.crc32(b"tEXtx")) + raw[33:]),
        FAIL,
    ),
    "a picture that is none": (pictures(lambda raw: raw[:40]), FAIL),
}


def test_a_map_whose_pictures_another_build_packed_is_the_same_map(planned, honest, tmp_path, monkeypatch):
    def as_elsewhere(text):
        """Its policy names the scripts as they stand there."""
        other = pictures(repacked())(text)
        for old, new in zip(
            *(re.findall(r"<script>(.*?)</script>", one, re.DOTALL) for one in (text, other)), strict=True
        ):
            digests = [base64.b64encode(hashlib.sha256(one.encode()).digest()).decode() for one in (old, new)]
            other = other.replace(*digests)
        return other

    stored = edited(planned[0], tmp_path / "plan", "map.html", as_elsewhere)
    page = (planned[0] / "map.html").read_bytes()
    monkeypatch.setattr("siteplan.offered.whole_map", lambda plan, site: page)
    assert told(map_findings(stored, planned[1])) <= honest


def told(findings):
    return {(one.rule, one.subject, one.status, one.message) for one in findings}


@pytest.fixture(scope="module")
def honest(planned):
    out, site = planned
    stored = read_plan(out)
    found = told([*schedule_findings(stored), *map_findings(stored, site), *folder_findings(stored)])
    assert {one[2] for one in found} == {"pass"}
    return found


def edited(out, folder, name, edit):
    shutil.copytree(out, folder)
    text = (folder / name).read_bytes().decode("utf-8")
    other = edit(text)
    raw = other if isinstance(other, bytes) else other.encode("utf-8")
    assert raw != text.encode("utf-8"), "the change changes nothing"
    (folder / name).write_bytes(raw)
    return read_plan(folder)


@pytest.mark.parametrize("kind", SCHEDULE)
def test_an_edited_schedule_is_told(planned, honest, tmp_path, kind):
    edit, status = SCHEDULE[kind]
    stored = edited(planned[0], tmp_path / "plan", "trench_schedule.csv", edit)
    new = told(schedule_findings(stored)) - honest
    assert {one[2] for one in new} == {status}, new
    assert {one[0] for one in new} == {"schedule"}


@pytest.mark.parametrize("kind", MAP)
def test_an_edited_map_is_told(planned, honest, tmp_path, kind, monkeypatch):
    edit, status = MAP[kind]
    stored = edited(planned[0], tmp_path / "plan", "map.html", edit)
    # the honest fixture has seen that this page is made again byte for byte
    page = (planned[0] / "map.html").read_bytes()
    monkeypatch.setattr("siteplan.offered.whole_map", lambda plan, site: page)
    new = told(map_findings(stored, planned[1])) - honest
    assert {one[2] for one in new} == {status}, new
    assert {one[0] for one in new} == {"map"}


@pytest.mark.parametrize(
    "name", ["trench_schedule (1).csv", "map.htm", ".notes", "Plan.json", "cut\u202esheet.html", "a" * 200]
)
def test_a_file_more_in_the_folder_is_named(planned, honest, tmp_path, name):
    shutil.copytree(planned[0], tmp_path / "plan")
    (tmp_path / "plan" / name).write_text("station\n")
    new = told(folder_findings(read_plan(tmp_path / "plan"))) - honest
    assert [one[2] for one in new] == [FLAG]


def features(change):
    def edit(site):
        path = site / "features.geojson"
        record = json.loads(path.read_text(encoding="utf-8"))
        change(record)
        path.write_text(json.dumps(record), encoding="utf-8")

    return edit


def of_kind(record, kind):
    return next(one for one in record["features"] if one["properties"]["kind"] == kind)


def appended(name, what):
    return lambda site: (site / name).write_bytes((site / name).read_bytes() + what)


def beside(name, what):
    return lambda site: (site / name).write_bytes(what)


def benchmark(record):
    lot = of_kind(record, "lot")["geometry"]["coordinates"][0][0]
    record["features"].append(
        {
            "type": "Feature",
            "properties": {"kind": "benchmark", "name": "BM 1"},
            "geometry": {"type": "Point", "coordinates": lot},
        }
    )


SITE = {
    "a benchmark more": features(benchmark),
    "a name": features(lambda r: of_kind(r, "downspout")["properties"].update(name="DS-9")),
    "a roof": features(lambda r: of_kind(r, "downspout")["properties"].update(roof_area=1.0)),
    "a house a micrometre aside": features(
        lambda r: of_kind(r, "building")["geometry"]["coordinates"][0][1].__setitem__(
            0, of_kind(r, "building")["geometry"]["coordinates"][0][1][0] + 1e-6
        )
    ),
    "features in another order": features(lambda r: r["features"].reverse()),
    "written otherwise": features(lambda r: None),
    "a feature less": features(lambda r: r["features"].pop()),
    "a remark in site.toml": appended("site.toml", b"\n# approved\n"),
    "a blank at the end": appended("features.geojson", b" "),
    "a byte after the grid": appended("ground.tif", b"\0"),
    "heights stretched by a file beside": beside(
        "ground.tif.aux.xml",
        b'<PAMDataset><PAMRasterBand band="1"><Offset>0.5</Offset><Scale>1</Scale></PAMRasterBand></PAMDataset>',
    ),
    "mark at the front of site.toml": lambda site: (site / "site.toml").write_bytes(
        MARK.encode() + (site / "site.toml").read_bytes()
    ),
}


@pytest.mark.parametrize("kind", SITE)
def test_an_edited_survey_is_named_by_its_file(planned, tmp_path, kind):
    site = tmp_path / "site"
    shutil.copytree(LOT, site)
    SITE[kind](site)
    try:
        found = [*input_findings(read_plan(planned[0]), read_site(site))]
    except (InputError, InputErrors):
        return
    assert [one.subject for one in found if one.status == FAIL], found


def test_a_table_of_features_whose_last_change_stands_in_a_journal_is_refused_and_left_alone(tmp_path):
    """A table's last change may not be in the table's own file."""
    import sqlite3

    import geopandas

    site = tmp_path / "site"
    shutil.copytree(LOT, site)
    toml = (site / "site.toml").read_text(encoding="utf-8")
    assert "features.geojson" in toml
    geopandas.read_file(site / "features.geojson").to_file(site / "features.gpkg", layer="features")
    (site / "features.geojson").unlink()
    (site / "site.toml").write_text(toml.replace("features.geojson", "features.gpkg"), encoding="utf-8")
    table = sqlite3.connect(site / "features.gpkg")
    for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
        table.create_function(name, 1, lambda _: 0)
    table.execute("pragma journal_mode=wal")
    table.execute("pragma wal_autocheckpoint=0")
    table.execute("update features set name = 'DS-9' where kind = 'downspout' and name = 'DS-1'")
    table.commit()
    shutil.copytree(site, tmp_path / "copied")  # as a crew gets it, the table still open
    table.close()
    copied = tmp_path / "copied"
    before = {entry.name: entry.read_bytes() for entry in copied.iterdir()}
    assert before["features.gpkg-wal"]
    with pytest.raises(InputError, match=r"features.gpkg: has changes in features.gpkg-wal .* Close that program"):
        read_site(copied)
    assert {entry.name: entry.read_bytes() for entry in copied.iterdir()} == before
    assert "DS-9" in {source.name for source in read_site(site).sources}  # closed, the change is in the file
