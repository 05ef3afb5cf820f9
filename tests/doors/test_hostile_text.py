"""Text of a stranger that would act on a terminal, through every command: it is shown, never obeyed."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from siteplan.cli.main import COMMANDS, main
from siteplan.errors import harmless

ROOT = Path(__file__).parents[2]
# clear the screen, ring the bell, run text backwards, a title, a C1 command, a line separator, an unseen tag
HOSTILE = "x\x1b[2J\x07\u202egpj\u2066\x1b]0;t\x07\x9b31m\u2028\U000e0041\r\x08y"


def acts(text: str) -> list[str]:
    """Characters that a terminal might obey."""
    return sorted({c for c in text if not c.isprintable() and c not in "\n\t\u00a0"})


@pytest.fixture(scope="module")
def plan(sample_plan):
    return sample_plan("long-meadow").folder


def spoiled(value, every: bool):
    if isinstance(value, dict):
        return {
            key: value[key] + HOSTILE
            if isinstance(value[key], str) and (every or key in {"name", "note", "message", "basis", "title"})
            else spoiled(value[key], every)
            for key in value
        }
    if isinstance(value, list):
        return [one + HOSTILE if isinstance(one, str) and every else spoiled(one, every) for one in value]
    return value


@pytest.fixture(params=[False, True], ids=["names", "every text"])
def strange(plan, tmp_path, request):
    """A plan folder whose names, or all of whose texts, act on a terminal."""
    folder = tmp_path / "plan"
    shutil.copytree(plan, folder)
    read = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    (folder / "plan.json").write_text(json.dumps(spoiled(read, request.param), ensure_ascii=False), encoding="utf-8")
    schedule = (folder / "trench_schedule.csv").read_text(encoding="utf-8-sig")
    (folder / "trench_schedule.csv").write_text(schedule.replace(",", f"{HOSTILE},", 40), encoding="utf-8")
    return folder


BOOK = (
    "point,BS,IFS,FS,station,remark\nBM,4.12,,,,EL "
    f"100.00\nA{HOSTILE[:20]},,4.86,,{HOSTILE[:8]},{HOSTILE[:9]}\nBM,,,4.12,,\n"
)


def commands(folder: Path, tmp_path: Path) -> list[list[str]]:
    book, points = tmp_path / "book.csv", tmp_path / "points.csv"
    book.write_text(BOOK.replace("\r", ""), encoding="utf-8")
    points.write_text(f"1,0,0,98.0,INV{HOSTILE[:12]}\n2,10,0,98.2,{HOSTILE[:20]}\n", encoding="utf-8")
    profile = tmp_path / "profile"
    profile.mkdir()
    (profile / "site.toml").write_text(
        f"name = {json.dumps(HOSTILE)}\n[rules]\n{json.dumps(HOSTILE)} = 3\n", encoding="utf-8"
    )
    return [
        ["belly", str(folder)],
        ["belly", str(folder), "--json"],
        ["cutsheet", str(folder), "--hi", "103"],
        ["cutsheet", str(folder), "--hi", "103", "--json"],
        ["cutsheet", str(folder), "--hi", "103", "--card"],
        ["asbuilt", str(folder), str(points)],
        ["asbuilt", str(points), str(points), "--json"],
        ["compare", str(folder), str(folder)],
        ["export", str(folder), "--to", "svg", "--out", str(tmp_path / "plan.svg")],
        ["export", str(folder), "--to", HOSTILE, "--out", str(tmp_path / "plan.svg")],
        ["compare", str(folder), str(folder), "--json"],
        ["review", str(folder)],
        ["review", str(folder), "--json"],
        ["record", str(folder), str(points), "--out", str(tmp_path / "record")],
        ["levels", str(book)],
        ["levels", str(book), "--json"],
        ["levels", HOSTILE],
        ["fall", "--rod-start", HOSTILE, "--rod-outlet", "5", "--length", "30"],
        ["fall", f"--{HOSTILE}"],
        ["rules", str(profile)],
        ["pipes", HOSTILE],
        ["plan", str(profile), "--out", str(tmp_path / "out")],
        ["plan", HOSTILE, "--out", HOSTILE],
        ["check", str(profile)],
        ["check", str(profile), "--json"],
        ["new", HOSTILE, "--points", HOSTILE],
        ["new", str(tmp_path / "begun"), "--points", str(points)],
        ["deed", HOSTILE],
        ["deed", str(points)],
        ["draw", HOSTILE, "--no-browser"],
        ["sheets", str(folder), "--out", str(tmp_path / "set.pdf"), "--parts", "cover"],
        ["sheets", str(folder), "--out", str(tmp_path / "set.pdf"), "--parts", HOSTILE],
        ["batch", str(tmp_path / "profile"), "--out", str(tmp_path / "many"), "--workers", "0"],
        ["batch", HOSTILE, "--out", str(tmp_path / "many")],
        ["screen", "--parcels", HOSTILE, "--elevation", HOSTILE, "--out", str(tmp_path / "seen")],
        ["completion", HOSTILE],
        [HOSTILE],
    ]


def test_no_command_lets_it_through(strange, tmp_path, capsys):
    tried = commands(strange, tmp_path)
    assert {given[0] for given in tried} >= set(COMMANDS)
    capsys.readouterr()
    for given in tried:
        main(given)
        shown = capsys.readouterr()
        assert acts(shown.out + shown.err) == [], given


def test_json_tells_what_stood_there(tmp_path, capsys):
    """The marks are escaped, not lost: a program reads back the very name."""
    (tmp_path / "book.csv").write_text(BOOK.replace("\r", "").replace("\u2028", ""), encoding="utf-8")
    main(["levels", str(tmp_path / "book.csv"), "--json"])
    read = json.loads(capsys.readouterr().out)
    assert any(HOSTILE[:8] in point["point"] for point in read["points"])


def test_what_is_harmless():
    assert harmless("Ärger 3′ 漢字 \u00a0\n\t") == "Ärger 3′ 漢字 \u00a0\n\t"
    assert harmless("\x1b\u202e\U000e0041") == "\\u001b\\u202e\\udb40\\udc41"
    assert json.loads(f'"{harmless(chr(0xE0041))}"') == "\U000e0041"
