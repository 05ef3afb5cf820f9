"""`siteplan belly`: a plan folder read back, pipes side by side on its ground."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET

import pytest

from siteplan.cli.main import main
from siteplan.units import FOOT, INCH

ROWS = 13
OD, BORE, WALL = 4.215 * INCH, 3.975 * INCH, 0.120 * INCH


def _record(*, grade=0.005, soft=True, nominal="4 in", own_pipes=None, cover=0.45, what="wet ground LS1"):
    length = 60 * FOOT
    step = length / (ROWS - 1)
    stations = [round(k * step, 4) for k in range(ROWS)]
    rows = [
        {
            "station": s,
            "x": s,
            "y": 0.0,
            "ground": 10 + grade * s + OD + cover,
            "invert": 10 + grade * s,
            "cut": cover + 0.2,
            "cover": cover,
            "grade_percent": 100 * grade,
            "note": "",
        }
        for s in stations
    ]
    ends = [
        {"x": s, "y": 0.0, "station": s, "invert": 10 + grade * s, "ground": 11.0, "bend_deg": 0, "fittings": []}
        for s in (0.0, stations[-1])
    ]
    wet = {
        "station_from": round(25 * FOOT, 4),
        "station_to": round(35 * FOOT, 4),
        "what": what,
        "certain": True,
        "modulus_pa": [344738, 689476, 1378951],
        "settlement": [0.0, 0.00254, 0.01524],
        "loose": 0.15,
    }
    line = {
        "id": "L1",
        "sources": ["S1"],
        "from": "S1",
        "to": "O1",
        "length": length,
        "spare": 0.0,
        "binding": "",
        "cost": 1.0,
        "pipe": {
            "kind": "pvc_sdr35",
            "nominal": nominal,
            "od_m": OD,
            "id_m": BORE,
            "wall_m": WALL,
            "title": "SDR 35",
            "source": "",
        },
        "vertices": ends,
        "stations": rows,
        "crossings": [],
        "low_spots": [],
        "reaches": [],
        "held": ["fixed", "fixed"],
        "soft_ground": [wet] if soft else [],
        "belly": None,
        "ground_notes": [],
    }
    return {
        "format": "siteplan-plan",
        "version": 1,
        "site": {
            "name": "x",
            "crs": "local",
            "length_unit": "ft",
            "elevation_unit": "ft",
            "accuracy": 0.01,
            "stamp": None,
            "inputs": [],
        },
        "rules": [],
        "sources": [],
        "outlets": [],
        "own_pipes": own_pipes or {},
        "lines": [line],
        "low_spots": [],
        "candidates": [],
        "checks": [],
        "assumptions": [],
        "cautions": [],
    }


@pytest.fixture
def folder(tmp_path):
    def write(**told):
        (tmp_path / "plan.json").write_text(json.dumps(_record(**told)))
        return tmp_path

    return write


def test_pipes_side_by_side_the_plans_own_first(folder, capsys):
    assert main(["belly", str(folder())]) == 0
    out = capsys.readouterr().out
    assert "wet ground LS1, 0+25.0 to 0+35.0: bed sinks 0.00 in / 0.10 in / 0.60 in" in out
    kinds = [line.strip(" *").split("  ")[0] for line in out.splitlines() if " PVC  " in line or " PE  " in line]
    assert kinds[0] == "SDR 35 PVC"
    assert set(kinds) == {
        "SDR 35 PVC",
        "schedule 40 PVC",
        "thin-wall PVC",
        "dual-wall corrugated PE",
        "single-wall corrugated PE",
    }
    assert "factor of 2 to 3" in out


def test_json_ranks_stiff_pipe_above_limp_pipe_and_says_the_same_twice(folder, capsys):
    where = str(folder())
    assert main(["belly", where, "--json"]) == 0
    first = capsys.readouterr().out
    assert main(["belly", where, "--json"]) == 0
    assert capsys.readouterr().out == first
    (line,) = json.loads(first)["lines"]
    told = [line["length"], *(one[end] for one in line["soft_ground"] for end in ("station_from", "station_to"))]
    told += [figure for pipe in line["pipes"] for figure in (*pipe["pool_length"], pipe["stress_share"]) if figure]
    assert told == [round(figure, 4) for figure in told]  # to a tenth of a millimetre
    depth = {pipe["kind"]: pipe["depth"] for pipe in line["pipes"]}
    for low, likely, high in depth.values():
        assert 0 <= low <= likely <= high
    assert depth["pvc_sch40"][2] < depth["pe_corr_dual"][2] < depth["pe_corr_single"][2]
    assert [pipe["kind"] for pipe in line["pipes"] if pipe["own"]] == ["pvc_sdr35"]
    assert "pvc_sch40" in [pipe["kind"] for pipe in line["pipes"] if pipe["shallowest"]]


def test_exit_one_when_the_plans_own_pipe_is_likely_to_pond(folder, capsys):
    where = folder(grade=0.001)
    record = json.loads((where / "plan.json").read_text())
    record["lines"][0]["soft_ground"][0]["settlement"] = [0.01, 0.03, 0.05]
    (where / "plan.json").write_text(json.dumps(record))
    assert main(["belly", str(where)]) == 1
    assert "standing water" in capsys.readouterr().out


def test_without_weak_ground_it_says_so_and_wet_ground_can_be_tried(folder, capsys):
    where = str(folder(soft=False))
    assert main(["belly", where]) == 0
    assert "No weak ground is known under it" in capsys.readouterr().out
    assert main(["belly", where, "--line", "L1", "--wet", "20", "30"]) == 0
    assert "wet ground to try, 0+20.0 to 0+30.0" in capsys.readouterr().out


def test_chart_is_an_svg_that_reads_without_colour_and_runs_nothing(folder, capsys, tmp_path):
    chart = tmp_path / "chart.svg"
    assert main(["belly", str(folder(what="<script>alert(1)</script>")), "--chart", str(chart)]) == 0
    text = chart.read_text(encoding="utf-8")
    root = ET.fromstring(text)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    names = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert "script" not in names
    assert {"pattern", "polygon", "line"} <= names
    said = " ".join(element.text or "" for element in root.iter())
    for kind in ("SDR 35 PVC", "schedule 40 PVC", "single-wall corrugated PE"):
        assert kind in said
    assert "dashed: limit" in said
    capsys.readouterr()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--line", "L9"], "'L9' is no line of this plan. Its lines: L1."),
        (["--wet", "1", "2"], "needs --line"),
        (["--line", "L1", "--wet", "50", "90"], "does not lie on L1"),
        (["--line", "L1", "--wet", "nan", "30"], "is no number that can be used"),
    ],
)
def test_bad_arguments_are_one_line(folder, capsys, arguments, said):
    assert main(["belly", str(folder()), *arguments]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1


def test_a_plan_that_cannot_be_read_is_one_line(folder, capsys, tmp_path):
    assert main(["belly", str(tmp_path / "none")]) == 2
    assert "holds no plan.json" in capsys.readouterr().err
    where = folder()
    record = json.loads((where / "plan.json").read_text())
    record["lines"][0]["soft_ground"][0]["modulus_pa"] = [3, 2, 1]
    (where / "plan.json").write_text(json.dumps(record))
    assert main(["belly", str(where)]) == 2
    assert "modulus_pa: does not rise from 0" in capsys.readouterr().err


def test_a_sites_own_pipe_stands_beside_the_others(folder, capsys):
    own = {"thick": {"kind": "pvc_own", "title": "thick PVC", "like": "pvc_sch40 4 in", "source": "our yard"}}
    assert main(["belly", str(folder(own_pipes=own)), "--json"]) == 0
    (line,) = json.loads(capsys.readouterr().out)["lines"]
    assert "pvc_own" in [pipe["kind"] for pipe in line["pipes"]]


def test_the_plans_own_limit_of_standing_water_is_the_one_flagged(folder, capsys):
    """A plan that lists a limit of 5 mm, or says that none is known.

    Is compared by that and not by the usual half inch.
    """
    record = _record()

    def told(limit):
        record["rules"] = [{"id": "belly-risk", "limit": limit, "unit": "m"}]
        where = folder()
        (where / "plan.json").write_text(json.dumps(record))
        code = main(["belly", str(where), "--json"])
        pipes = json.loads(capsys.readouterr().out)["lines"][0]["pipes"]
        return code, next(one for one in pipes if one["own"])

    code, strict = told(0.00001)
    assert (code, strict["limit"]) == (1, 1e-05)
    assert any("over" in flag for flag in strict["flags"])
    code, unknown = told(None)
    assert unknown["limit"] == pytest.approx(0.1 * BORE, abs=1e-5)  # a tenth of the bore is left


def test_lengths_for_programs_are_written_to_a_tenth_of_a_millimetre():
    from types import SimpleNamespace

    from siteplan.trench.sides import as_record

    ground = SimpleNamespace(station_from=1.23456789, station_to=2.3456789, what="wet ground", certain=True)
    line = SimpleNamespace(id="L1", length=18.28812345, held=(), soft=(ground,))
    (told,) = as_record([SimpleNamespace(line=line, sides=(), unknown=())])["lines"]
    assert (told["length"], told["soft_ground"][0]["station_from"], told["soft_ground"][0]["station_to"]) == (
        18.2881,
        1.2346,
        2.3457,
    )
