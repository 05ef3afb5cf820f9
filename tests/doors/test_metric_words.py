"""A site in metres is told nothing in feet, inches or pounds: every sheet and every command's screen is searched."""

from __future__ import annotations

import re

import pytest

from siteplan.cli.main import main

# a figure in feet or inches, a US unit by its name, feet and inches by their marks; 'in' alone is a word
_US = re.compile(
    r"\d\s?(?:in|ft)\b|\b(?:ft|feet|foot|inch|inches|lbf?|lbs|psi|psf|gpm|gal|gallons?|acres?|mi|miles?|cfs|us-ft|sq ft)\b|\d'-\d|°F",
)
# the other unit is named where the survey's own was held against it
_WEIGHED = re.compile(r"in m \d+% of the points lie on the other features, in ft \d+%")


def us_words(text: str) -> list[str]:
    """Every US word with its surroundings."""
    plain = _WEIGHED.sub("", re.sub(r"\s+", " ", text))
    return [plain[max(0, found.start() - 60) : found.end() + 40] for found in _US.finditer(plain)]


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
        texts[file.name] = re.sub(r"<(script|style)\b(?![^>]*json).*?</\1>", " ", text, flags=re.DOTALL)
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
    assert "N/m" in texts["plan.json"]
    assert " kN" in texts["plan.json"]
    for sheet, text in texts.items():
        assert us_words(re.sub(r"SDR \d+|\b(?:4|6|8|10|12) in\b", "DN", text)) == [], sheet
