"""The page's bytes: the same each time, complete in themselves, and deaf to what a name might say."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import re
import subprocess
import sys
import tomllib
from dataclasses import replace
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from siteplan.sheets import map_page as module
from siteplan.sheets.map_page import map_page

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def page(yard):
    return map_page(*yard).decode()


def block(page):
    return re.search(r'<script type="application/json" id="plan-data">(.*?)</script>', page, re.DOTALL)[1]


def test_same_plan_same_bytes_and_under_another_hash_seed(yard, metric_yard, page):
    assert map_page(*yard).decode() == page
    code = (
        "import hashlib, sys; sys.path.insert(0, 'tests/sheets'); import invented\n"
        "from siteplan.sheets.map_page import map_page; from siteplan.sheets.plan_json import plan_json\n"
        "from siteplan.sheets.schedule import trench_schedule; from siteplan.sheets.summary import summary\n"
        "p, s = invented.yard()\n"
        "parts = (map_page(p, s), plan_json(p, s), trench_schedule(p), summary(p, s).encode())\n"
        "print(hashlib.sha256(b''.join(parts)).hexdigest(), hashlib.sha256(parts[0]).hexdigest())"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
        for seed in ("1", "4242")
    ]
    assert told[0] == told[1]
    assert told[0][1] == hashlib.sha256(page.encode()).hexdigest()
    assert map_page(*metric_yard).decode() != page


def test_a_name_never_runs_as_a_template(page, invented):
    names = json.dumps(json.loads(block(page)), ensure_ascii=False)
    assert invented.SUM in names
    assert invented.BLOCK in names
    assert f"lot {invented.SCRIPT}" not in page
    assert "Alder &amp; {{ 7*7 }} lot &lt;/script&gt;" in page
    assert "Alder & 49" not in page
    assert "Alder &amp; 49" not in page
    assert "Drive 49" not in names


def test_nothing_a_user_wrote_enters_the_map_library(yard, monkeypatch):
    """The map's own half of the page is the same whatever things are called."""
    parts = []
    real = module._folium

    def noted(*given):
        parts.append(real(*given))
        return parts[-1]

    monkeypatch.setattr(module, "_folium", noted)
    plan, site = yard
    map_page(plan, site)
    other = "{{ ''.__class__ }}"
    renamed = replace(
        plan,
        site_name=other,
        sources=tuple(replace(s, name=other, note=other) for s in plan.sources),
        outlets=tuple(replace(o, name=other, note=other, basis=other) for o in plan.outlets),
        findings=tuple(replace(f, message=other, where=other) for f in plan.findings),
        candidates=tuple(replace(c, reason=other) for c in plan.candidates),
        assumptions=(other,),
        cautions=(other,),
    )
    map_page(renamed, replace(site, name=other, features=tuple(replace(f, name=other) for f in site.features)))
    assert parts[0] == parts[1]


def test_the_json_block_cannot_end_its_element(page):
    assert not set("<>&\u2028\u2029") & set(block(page))
    assert len(re.findall(r"</script", page, re.IGNORECASE)) == 4


def test_page_names_nothing_outside_itself(page):
    stripped = re.sub(r"<!--.*?-->", "", page, flags=re.DOTALL)
    assert not re.findall(
        r"<(?:link|img|script|iframe|object|embed)[^>]*(?:src|href)=[\"'](?!data:)",
        re.sub(r"<script.*?</script>", "", stripped, flags=re.DOTALL),
    )
    assert "sourceMappingURL" not in page
    assert not [
        url
        for url in re.findall(r"url\(([^)]*)\)", re.sub(r"<script>.*?</script>", "", page, flags=re.DOTALL))
        if not url.startswith(("#hatch", "#along"))
    ]
    assert "<script src" not in page
    assert "@import" not in page


def test_policy_names_every_script_and_style_by_its_digest(page):
    policy = re.search(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', page)[1]
    assert policy.startswith("default-src 'none';")
    assert "img-src data:;" in policy
    assert "unsafe" not in policy
    for tag, directive in (("script", "script-src"), ("style", "style-src")):
        told = re.search(directive + r" ([^;]*)", policy)[1].split()
        found = [
            f"'sha256-{base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()}'"
            for body in re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        ]
        assert told == found
        assert len(found) == {"script": 3, "style": 2}[tag]
    assert page.index("Content-Security-Policy") < page.index("<style>")
    # an attribute is neither a script nor a style that a digest could name
    outside = re.sub(r"<(script|style).*?</\1>", "", page, flags=re.DOTALL)
    assert not re.search(r"<[^>]*\s(?:style|on[a-z]+)=", outside)


def test_a_phone_may_zoom_and_the_language_is_told(page):
    assert '<html lang="en">' in page
    assert '<meta name="viewport" content="width=device-width, initial-scale=1">' in page
    assert "user-scalable" not in page
    assert "maximum-scale" not in page


def test_ids_are_numbers_not_random(page):
    outside = re.sub(r"sha256 [0-9a-f]{16}", "", page)
    assert not re.search(r"\b[a-z_]+_[0-9a-f]{32}\b", outside)
    assert re.search(r'<div class="folium-map" id="map_\d+"', page)


def test_leaflet_is_as_published():
    folder = resources.files("siteplan").joinpath("assets", "leaflet")
    sources = tomllib.loads(folder.joinpath("SOURCES.toml").read_text(encoding="utf-8"))
    assert sources["version"] == "1.9.4"
    assert {entry["name"] for entry in sources["file"]} == {"leaflet.js", "leaflet.css", "LICENSE"}
    for entry in sources["file"]:
        assert hashlib.sha256(folder.joinpath(entry["name"]).read_bytes()).hexdigest() == entry["sha256"], entry["name"]


def test_leaflets_licence_goes_with_the_page(page):
    assert "BSD 2-Clause License" in page
    assert "Redistributions in binary form must reproduce" in page


def test_refresh_takes_the_files_out_of_a_package(tmp_path):
    import io
    import tarfile

    from siteplan.assets.refresh import CARRIED, refresh

    folder = resources.files("siteplan").joinpath("assets", "leaflet")
    with tarfile.open(tmp_path / "leaflet.tgz", "w:gz") as pack:
        held = {member: folder.joinpath(name).read_bytes() for name, member in CARRIED.items()}
        for member, content in {**held, "package/package.json": b'{"version": "1.9.4"}'}.items():
            info = tarfile.TarInfo(member)
            info.size = len(content)
            pack.addfile(info, io.BytesIO(content))
    (tmp_path / "out").mkdir()
    told = tomllib.loads(refresh(tmp_path / "leaflet.tgz", tmp_path / "out"))
    ours = tomllib.loads(folder.joinpath("SOURCES.toml").read_text(encoding="utf-8"))
    assert told["file"] == ours["file"]
    assert told["version"] == ours["version"]


def test_panel_says_verdict_reasons_and_figures(page):
    text = re.sub(r"<[^>]+>", " ", re.sub(r"<(script|style).*?</\1>", "", page, flags=re.DOTALL)).replace("\u00a0", " ")
    text = " ".join(text.split())
    for said in (
        "3 sources: 1 sure to drain, 1 on a line that FAILS, 1 NOT DRAINED",
        "no line carries it: nearest miss is Curb, 0.12 m short",
        "fall available 1.02 ft, needed 1.41 ft",
        "1. Heavy pipe with the outlet zone&#x27;s cover over the last 20.0 ft before the outlet instead of 15.0 ft",
        "possible, not taken \u2013 costs more",
        "Survey doubt: 0.10 ft",
        "Contour, each 0.5 ft",
        "Least cover over the outside top of pipe in lawn",
        "sha256 0123456789abcdef",
    ):
        assert said in text, said
    assert page.count('class="word">FAIL<') == 2
    assert page.count('class="word">FLAG<') == 4


def test_lines_that_fail_are_drawn_apart(page):
    data = json.loads(block(page))
    assert [(line["id"], line["layer"], line["label"]["en"]) for line in data["lines"]] == [
        ("L1", "line", "L1"),
        ("L2", "line_fail", "L2 FAILS"),
    ]
    assert [mark["state"] for mark in data["marks"] if mark["group"] == "Sources and outlets"] == [
        "",
        "",
        "poor",
        "",
        "unused",
        "found unused",
    ]


def test_read_outs_agree_with_the_schedule(yard, page):
    from siteplan.sheets.schedule import printed_rows

    plan, _ = yard
    for line, data in zip(plan.lines, json.loads(block(page))["lines"], strict=True):
        told = {row[0]: row for row in data["told"]}
        for row in printed_rows(plan, line):
            station, ground, invert, top, _, _, grade = told[row.station]
            assert (station, ground, invert, top) == (
                row.station,
                f"{row.ground} ft",
                f"{row.invert} ft",
                f"{row.top} ft",
            )
            assert not row.grade or grade == f"{row.grade} %"
        assert data["station"] == sorted(data["station"])
        assert data["station"][-1] == pytest.approx(line.length, abs=1e-4)


def read_back(ground):
    """The text of heights by its description: what each node has over left + above - above left.

    Runs that are not known.
    """
    base, left = len(ground["letters"]), iter(ground["data"])

    def told():
        mark = next(left)
        if mark != "!":
            return ground["letters"].index(mark) - base // 2
        a, b, c = (ground["letters"].index(next(left)) for _ in range(3))
        return (a * base + b) * base + c - base**3 // 2

    over = np.array([told() for _ in range(ground["rows"] * ground["cols"])]).reshape(ground["rows"], ground["cols"])
    z = (ground["base"] + over.cumsum(axis=0).cumsum(axis=1) * ground["step"]).ravel()
    known = np.repeat(np.arange(len(ground["gaps"])) % 2 == 0, ground["gaps"]) if ground["gaps"] else True
    return np.where(known, z, np.nan).reshape(over.shape)


def test_heights_under_the_cursor_are_the_surveys(yard, page):
    from siteplan.site import heights

    _, site = yard
    data = json.loads(block(page))
    ground = data["ground"]
    z = read_back(ground)
    row, col = np.mgrid[0 : ground["rows"], 0 : ground["cols"]]
    x = data["origin"][0] + (col + 0.5) * ground["cell"]
    y = data["origin"][1] + data["size"][1] - (row + 0.5) * ground["cell"]
    known = heights(site.grid, x.ravel(), y.ravel()).reshape(z.shape)
    assert np.array_equal(np.isnan(z), np.isnan(known))
    assert np.isnan(z).any()
    assert np.nanmax(np.abs(z - known)) <= ground["step"] / 2 + 1e-4  # the page's size is written to the millimetre


def test_a_plan_without_lines_has_a_page(hopeless):
    page = map_page(*hopeless).decode()
    assert "No line can be laid." in page
    assert "3 sources: 3 NOT DRAINED: no line can be laid" in page
    assert 'class="profiles"' not in page


def test_metric_sites_read_in_metres(metric_yard):
    plan, site = metric_yard  # the invented outlets tell their basis in feet whatever the site's unit
    page = map_page(replace(plan, outlets=tuple(replace(o, basis="") for o in plan.outlets)), site).decode()
    outside = re.sub(r"<(script|style).*?</\1>", "", page, flags=re.DOTALL)
    assert json.loads(block(page))["metres"] == 1.0
    assert not re.search(r"\d[ \u00a0]ft\b", outside.split("Rules in force")[0])


def test_elevations_in_metres_beside_lengths_in_feet(yard):
    plan, site = yard
    page = map_page(replace(plan, elevation_unit="m"), site).decode()
    data = json.loads(block(page))
    station, ground, invert, top, cover, cut, _ = data["lines"][0]["told"][-1]
    assert station == "0+70.7"
    assert all(text.endswith(" m") for text in (ground, invert, top))
    assert all("ft" in text for text in (cover, cut))
    assert "elevation, m<" in page
    assert "station, ft up from the outlet<" in page
    assert (data["unit"], data["elevationUnit"]) == ("ft", "m")
