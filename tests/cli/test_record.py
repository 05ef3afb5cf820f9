"""`siteplan record` from outside: its options are those of asbuilt, and it refuses a bare point list."""

from __future__ import annotations

from siteplan.cli.main import main


def test_a_record_needs_a_plan_folder(tmp_path, capsys):
    rods = tmp_path / "rods.csv"
    rods.write_text("sta,rod\n0+00,6.00\n0+10,5.90\n0+20,5.80\n", encoding="utf-8")
    assert main(["record", "95.50@1.00", str(rods), "--hi", "101.84", "--out", str(tmp_path / "rec")]) == 2
    assert "is no plan folder" in capsys.readouterr().err
    assert not (tmp_path / "rec").exists()


def test_out_is_asked_for(tmp_path, capsys):
    assert main(["record", str(tmp_path), "rods.csv"]) == 2
    assert "--out" in capsys.readouterr().err
