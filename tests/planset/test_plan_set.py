"""The plan set as its readers get it: type that can be selected, the same bytes, one message where it cannot be made."""

from __future__ import annotations

import hashlib
import subprocess
import tomllib
from importlib import resources

import pytest

from siteplan.cli.main import main


def text_of(file):
    return subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True, text=True).stdout


@pytest.fixture(scope="module")
def alder(sample_plan, tmp_path_factory):
    folder = sample_plan("alder-court").folder
    out = tmp_path_factory.mktemp("set") / "set.pdf"
    assert main(["sheets", str(folder), "--out", str(out), "--date", "2026-05-01"]) == 0
    return folder, out


def test_every_sheet_says_whose_which_of_how_many_and_of_what_plan(alder):
    folder, out = alder
    pages = text_of(out).split("\f")[:-1]
    identity = hashlib.sha256((folder / "plan.json").read_bytes()).hexdigest()[:12]
    for number, page in enumerate(pages, start=1):
        for said in ("Alder Court, lot 7", identity, "2026-05-01", f"{number} of {len(pages)}"):
            assert said in page, (number, said)


def test_same_plan_same_bytes(alder, tmp_path):
    folder, out = alder
    assert main(["sheets", str(folder), "--out", str(tmp_path / "two.pdf"), "--date", "2026-05-01"]) == 0
    assert (tmp_path / "two.pdf").read_bytes() == out.read_bytes()


@pytest.mark.parametrize("scale", ["1:5", "1in=ft", "1:x", "1:9999999"])
def test_a_scale_that_is_none_is_refused(alder, tmp_path, capsys, scale):
    assert main(["sheets", str(alder[0]), "--out", str(tmp_path / "no.pdf"), "--scale", scale]) == 2
    assert "a scale is written 1:240" in capsys.readouterr().err
    assert not (tmp_path / "no.pdf").exists()


def test_another_site_than_the_plans_own_is_refused(alder, tmp_path, capsys):
    from pathlib import Path

    other = Path(__file__).parents[2] / "sample_sites" / "kiln-rise"
    assert main(["sheets", str(alder[0]), "--out", str(tmp_path / "no.pdf"), "--site", str(other)]) == 2
    assert "not as the plan was made from" in capsys.readouterr().err


def test_fonts_are_as_their_source_gives_them():
    folder = resources.files("siteplan").joinpath("assets", "fonts")
    told = tomllib.loads(folder.joinpath("SOURCES.toml").read_text(encoding="utf-8"))
    assert {one["name"] for one in told["file"]} == {"DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "LICENSE"}
    for one in told["file"]:
        assert hashlib.sha256(folder.joinpath(one["name"]).read_bytes()).hexdigest() == one["sha256"], one["name"]
