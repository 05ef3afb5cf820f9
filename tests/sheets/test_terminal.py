"""What a terminal of 80 columns gets: nothing longer, nothing lost, no figure or place broken."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from siteplan.cli.main import COMMANDS, main

SAMPLES = Path(__file__).parents[2] / "sample_sites"
DEED = """N 45 30 15 E 120.50 ft
curve right, radius 50 ft, arc 78.54 ft, chord N 45 00 00 E 70.71 ft
S 10 00 00 W 100 ft
"""


def _said(capsys, *asked):
    main([str(one) for one in asked])
    out = capsys.readouterr().out
    assert out
    assert [line for line in out.splitlines() if len(line) > 80] == []
    return out


def test_check_wraps_and_keeps_its_places_whole(capsys):
    out = _said(capsys, "check", SAMPLES / "marsh-lane")
    assert "  1. N 5934007.600 E 561024.400: ground at South-east" in out
    assert "Shoot the gutter flow line, or the ground at daylight, and give invert: else\n      it is taken" in out


def test_new_wraps(tmp_path, capsys):
    points = tmp_path / "pts.csv"
    points.write_text("1,100,100,50,GRD\n2,100,130,51,GRD\n3,130,130,51.2,FL\n")
    out = _said(capsys, "new", tmp_path / "site", "--points", points)
    assert "read the wrong way the plan is mirrored" in " ".join(out.split())


def test_a_deed_wraps_a_call_under_its_column(tmp_path, capsys):
    calls = tmp_path / "lot.deed"
    calls.write_text(DEED)
    out = _said(capsys, "deed", calls)
    assert (
        "   curve right, radius 50.000 ft, arc 78.540 ft,\n" + " " * 33 + "chord N 45\u00b000'00\" E 70.711 ft\n" in out
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_every_command_wraps(name, capsys):
    assert main([name, "--help"]) == 0
    long = [line for line in capsys.readouterr().out.splitlines() if len(line) > 80]
    assert all(len(line.split()) == 1 or "{" in line for line in long)  # a list of values is one word


def test_the_list_of_commands_wraps(capsys):
    out = _said(capsys, "--help")
    assert all(f"\n  {name} " in out for name in COMMANDS)


def test_a_batch_wraps(tmp_path, capsys):
    """A lot that cannot be read is told with its reason, however long that is."""
    (tmp_path / "lots" / "a-lot-with-quite-a-long-name-of-its-own").mkdir(parents=True)
    shutil.copy(SAMPLES / "marsh-lane" / "site.toml", tmp_path / "lots" / "a-lot-with-quite-a-long-name-of-its-own")
    _said(capsys, "batch", tmp_path / "lots", "--out", tmp_path / "out", "--workers", "0")
