"""A site in metres is told nothing in feet, inches or pounds: every sheet and every command's screen is searched."""

from __future__ import annotations

import json
import re
import sqlite3

import numpy as np
import pytest

from siteplan.cli.main import main

# a figure in feet or inches, a US unit by its name, feet and inches by their marks; 'in' alone is a word
_US = re.compile(
    (
        r"\d\s?(?:in|ft)\b|\b(?:ft|feet|foot|inch|inches|lbf?|lbs|psi|psf|gpm|gal|gallons?|acres?|mi|miles?|cfs|us-ft|sq "
        r"ft)\b|\d'-\d|°F"
    ),
)
# the other unit is named where the survey's own was held against it
_WEIGHED = re.compile(r"in m \d+% of the points lie on the other features, in ft \d+%")


def us_words(text: str) -> list[str]:
    """Every US word with its surroundings."""
    plain = _WEIGHED.sub("", re.sub(r"\s+", " ", text))
    return [plain[max(0, found.start() - 60) : found.end() + 40] for found in _US.finditer(plain)]


def package_words(path) -> list[str]:
    """Names of a GeoPackage's tables and columns, and every text that stands in them.

    But for the register of systems.
    """
    base = sqlite3.connect(path)
    tables = [name for (name,) in base.execute("select name from sqlite_master where type = 'table'")]
    mine = [name for name in tables if not name.startswith(("gpkg_spatial", "gpkg_ogr", "rtree_", "sqlite_"))]
    told = []
    for name in mine:
        rows = base.execute(f'select * from "{name}"')
        told += [name, *(column[0].replace("_", " ") for column in rows.description)]
        told += [cell for row in rows for cell in row if isinstance(cell, str)]
    base.close()
    return told


def test_the_search_finds_what_it_must():
    for text in (
        "12 in of cover",
        "4in",
        "lbf/ft3",
        "75 lbf",
        "0'-7 1/2",
        "5 ft",
        "within a foot",
        "12 gpm",
        "0.1 acre",
        "last inch",
    ):
        assert us_words(text), text
    for text in ("laid in 2 lines in lawn", "0.305 m in the first", "4.67 L/s", "lift", "minimum"):
        assert not us_words(text), text


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Plan, review and every sheet of the metric lot by name."""
    import contextlib
    import importlib.util
    import io
    from pathlib import Path

    spec = importlib.util.spec_from_file_location(
        "metric_lot", Path(__file__).parents[1] / "builders" / "metric_lot.py"
    )
    assert spec is not None
    assert spec.loader is not None
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    folder = tmp_path_factory.mktemp("metric")
    site, out = builder.site_folder(folder / "site"), folder / "out"

    def screen(*words: str) -> str:
        heard = io.StringIO()
        with contextlib.redirect_stdout(heard), contextlib.redirect_stderr(heard):
            code = main([*words])
        assert code in {0, 1}, heard.getvalue()
        return heard.getvalue()

    texts = {
        "plan": screen("plan", str(site), "--out", str(out)),
        "review": screen("review", str(out), str(site), "--html", str(folder / "check.html")),
        "cutsheet": screen(
            "cutsheet",
            str(out),
            "--line",
            "L1",
            "--benchmark",
            "99.700",
            "--backsight",
            "1.500",
            "--html",
            str(folder / "cut.html"),
        ),
        "rules": screen("rules", str(site)),
    }
    for file in (*sorted(out.iterdir()), folder / "check.html", folder / "cut.html"):
        text = file.read_text(encoding="utf-8-sig")
        # the map's own program carries names such as ft; what people read stands outside of it, or in its data
        said = re.sub(r"<(script|style)\b(?![^>]*json).*?</\1>", " ", text, flags=re.DOTALL)
        texts[file.name] = re.sub(r'"lengths":\{[^}]*\}', " ", said)  # units that may be typed there, by their signs
    return texts


@pytest.mark.parametrize(
    "sheet",
    ["plan", "review", "cutsheet", "rules", "plan.json", "trench_schedule.csv", "map.html", "check.html", "cut.html"],
)
def test_no_us_word_on_a_metric_sheet(told, sheet):
    assert us_words(told[sheet]) == []


def test_inch_pipe_on_a_metric_site_keeps_its_name_and_nothing_else(metric_lot, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["plan", str(metric_lot(tables="", bare=True)), "--out", str(out)]) in {0, 1}
    texts = {"plan": capsys.readouterr().out}
    assert main(["belly", str(out), "--line", "L1", "--wet", "5", "9"]) in {0, 1}
    texts["belly"] = capsys.readouterr().out
    texts["plan.json"] = (out / "plan.json").read_text(encoding="utf-8")
    for sheet in ("trench_schedule.csv", "map.html"):
        texts[sheet] = (out / sheet).read_text(encoding="utf-8-sig")
    shots = tmp_path / "rods.csv"
    shots.write_text("station,rod\n0,2.5\n3,2.47\n6,2.44\n", encoding="utf-8")
    assert main(["asbuilt", "99.5@1.00", str(shots), "--hi", "102", "--unit", "m"]) in {0, 1}
    texts["asbuilt"] = capsys.readouterr().out
    for sheet in ("plan.json", "trench_schedule.csv", "map.html", "asbuilt"):
        named = re.findall(r"\b\d+ in( \(\d+ mm outside\))? (?:SDR|schedule|sewer-grade|solid-wall|thin)", texts[sheet])
        assert named, sheet
        assert all(named), sheet
    # a size in inches is never told without what a metric tape finds, but where it is a name that settings take
    for sheet in ("plan", "trench_schedule.csv", "map.html", "plan.json"):
        told = re.sub(r'"(?:nominal|smallest_size|asked|laid)": "\d+ in"|"kind": "[^"]*"', "", texts[sheet])
        told = re.sub(r"<(script|style)\b(?![^>]*json).*?</\1>", " ", told, flags=re.DOTALL)
        # the name alone stands where there is room for no more: under a short stretch of the profile, in a narrow
        # column
        told = re.sub(r'class="said material"[^>]*>\d+ in<|<td[^>]*>\d+ in</td>', "", told)
        alone = [
            told[max(0, m.start() - 60) : m.end() + 20]
            for m in re.finditer(r"(?<!SDR )(?<!schedule )\b\d+ in\b(?! \(\d+ mm)", told)
        ]
        assert alone == [], sheet
    for sheet in ("trench_schedule.csv", "map.html"):
        del texts[sheet]
    assert "N/m" in texts["plan.json"]
    assert " kN" in texts["plan.json"]
    for sheet, text in texts.items():
        assert us_words(re.sub(r"SDR \d+|\b(?:4|6|8|10|12) in\b( \(\d+ mm outside\))?", "DN", text)) == [], sheet


def test_what_was_laid_on_a_metric_site_is_told_in_metric(metric_lot, tmp_path, capsys):
    out, record = tmp_path / "out", tmp_path / "record"
    assert main(["plan", str(metric_lot()), "--out", str(out)]) in {0, 1}
    capsys.readouterr()
    line = next(
        one for one in json.loads((out / "plan.json").read_text(encoding="utf-8"))["lines"] if one["id"] == "L1"
    )
    at = [row["station"] for row in line["stations"]]
    every = sorted({*at, *np.arange(0.0, at[-1], 2.0).round(3).tolist()})
    rows = [(s, 103 - float(np.interp(s, at, [row["invert"] for row in line["stations"]]))) for s in every]
    shots = tmp_path / "shots.csv"
    for extra in (0.0, 0.08):  # as asked, then with a belly
        body = "".join(
            f"L1,{s:.3f},{rod + (extra if k == len(rows) // 2 else 0):.3f}\n" for k, (s, rod) in enumerate(rows)
        )
        shots.write_text("line,station,rod\n" + body, encoding="utf-8")
        for command in ("asbuilt", "record"):
            words = [command, str(out), str(shots), "--line", "L1", "--hi", "103", "--on", "invert"]
            more = ["--out", str(record), "--date", "2026-05-04"] if command == "record" else []
            main([*words, *more])
            heard = capsys.readouterr()
            assert "L1" in heard.out + heard.err, command
            assert us_words(heard.out + heard.err) == [], command
        assert main(["asbuilt", str(out), str(shots), "--line", "L1", "--hi", "103", "--on", "invert", "--json"]) in {
            0,
            1,
        }
        assert us_words(capsys.readouterr().out) == []
    for file in sorted(record.iterdir()):
        if file.suffix == ".html":
            text = re.sub(r"<(script|style)\b.*?</\1>", " ", file.read_text(encoding="utf-8-sig"), flags=re.DOTALL)
            assert us_words(text.replace("downspout&#x27;s foot", "")) == [], file.name
    told = package_words(record / "record.gpkg")
    assert any("L1" in text for text in told)
    assert [word for text in told for word in us_words(text)] == []


@pytest.mark.parametrize(
    "more",
    [
        ["--outlet", "curb"],
        ["--outlet", "curb", "--curb-face", "0.12"],
        ["--outlet", "popup"],
        ["--outlet", "daylight"],
        ["--outlet", "daylight", "--outlet-elev", "101.4"],
        ["--outlet", "curb", "--cover", "0.5", "--doubt", "0.05"],
    ],
)
@pytest.mark.parametrize("form", [[], ["--json"]])
def test_a_quick_answer_in_metres_holds_no_us_word(more, form, capsys):
    words = ["fall", "--start-elev", "101.5", "--outlet-elev", "99.2", "--length", "50", "--unit", "m", *more, *form]
    assert main(words) in {0, 1}
    heard = capsys.readouterr().out
    # a pipe of the book is named in inches
    assert us_words(heard.replace('"nominal": "4 in"', "")) == []
