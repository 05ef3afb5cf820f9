"""`siteplan asbuilt` from outside: exit codes, the contract's keys, one line for what cannot be used."""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main

KEYS = {"verdict", "datum_shift", "swapped", "bellies", "missing", "reshoot"}
GOOD = "sta,rod\n" + "".join(f"0+{s:02d},{6 - s / 100:.2f}\n" for s in range(0, 100, 10))
SAGGED = GOOD.replace("0+40,5.60", "0+40,5.82")
HI = ["--benchmark", "100.00", "--backsight", "1.84"]


@pytest.fixture
def rods(tmp_path):
    def write(text):
        path = tmp_path / "rods.csv"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


@pytest.mark.parametrize(("text", "code", "verdict"), [(GOOD, 0, "accept"), (SAGGED, 1, "re-dig")])
def test_exit_codes_and_keys(rods, text, code, verdict, capsys):
    assert main(["asbuilt", "95.50@1.00", rods(text), *HI, "--json"]) == code
    record = json.loads(capsys.readouterr().out)
    assert set(record) >= KEYS
    assert record["verdict"] == verdict
    for belly in record["bellies"]:
        assert set(belly) >= {"line", "station_from", "station_to", "depth"}


def test_the_screen_says_what_to_do(rods, capsys):
    assert main(["asbuilt", "95.50@1.00", rods(SAGGED), *HI]) == 1
    out = capsys.readouterr().out
    assert out.startswith("RE-DIG: do not backfill")
    assert "0+30.0 to 0+50.0: belly" in out


@pytest.mark.parametrize(
    ("plan", "text", "rest", "said"),
    [
        ("95.50@1.00", GOOD, [], "--hi: is missing"),
        ("nowhere", GOOD, HI, "no such plan"),
        ("95.50@steep", GOOD, HI, "PLAN"),
        ("95.50@1.00", GOOD, [*HI, "--on", "grass"], "--on"),
        ("95.50@1.00", GOOD, [*HI, "--pipe", "clay"], "--pipe"),
        ("95.50@1.00", GOOD, [*HI, "--unit", "yd"], "--unit"),
        ("95.50@1.00", GOOD, [*HI, "--doubt", "0"], "--doubt"),
        ("95.50@1.00", "sta,rod\n0+00,-6.00\n0+10,5.90\n", HI, "below 0"),
        ("95.50@1.00", "sta,rod\n0+00,60.0\n0+10,5.90\n", HI, "longer than any rod"),
    ],
)
def test_what_cannot_be_used_is_one_line_and_two(rods, plan, text, rest, said, capsys):
    assert main(["asbuilt", plan, rods(text), *rest]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert len(told.err.strip().splitlines()) == 1


def test_a_file_that_is_not_there(tmp_path, capsys):
    assert main(["asbuilt", "95.50@1.00", str(tmp_path / "none.csv"), *HI]) == 2
    assert "no such file of shots" in capsys.readouterr().err


def test_names_cannot_write_to_the_terminal(rods, capsys):
    text = "sta,rod,name\n" + "".join(f"0+{s:02d},{6 - s / 100:.2f},a\x1b[31mb\n" for s in range(0, 60, 10))
    main(["asbuilt", "95.50@1.00", rods(text), *HI])
    assert "\x1b" not in capsys.readouterr().out


def test_rods_as_the_cut_sheet_asks_lie_on_the_design_where_pipes_change_too(sample_plan, tmp_path, capsys):
    """One pipe at a change of pipe on both sheets: the one upstream, however the station is rounded."""
    out = sample_plan("alder-court").folder
    assert main(["cutsheet", str(out), "--hi", "104.20", "--json"]) == 0
    lines = json.loads(capsys.readouterr().out)["lines"]
    assert any("pipe changes" in target["note"] for line in lines for target in line["targets"])
    rods = [
        f"{line['line']},{target['printed']['station']},{target['printed']['rod_top']}"
        for line in lines
        for target in line["targets"]
    ]
    shots = tmp_path / "rods.csv"
    shots.write_text("line,station,rod\n" + "\n".join(rods) + "\n")
    main(["asbuilt", str(out), str(shots), "--hi", "104.20", "--json"])
    stations = [row for line in json.loads(capsys.readouterr().out)["lines"] for row in line["stations"]]
    assert len(stations) == len(rods)
    # a rounded rod and a rounded station on 12 % of grade: 0.005 + 0.05 * 0.12 ft
    assert max(abs(row["invert"] - row["design"]) for row in stations) < 0.012 * 0.3048


def test_a_station_that_is_none_is_told_by_its_row(tmp_path, capsys):
    """A cell with a plus in it is no station for that.

    0+4 was passed over and the line told as one of too few inverts.
    """
    (tmp_path / "d.csv").write_text("station,invert\n0+4,95.50\n0+20,95.70\n0+40,95.90\n", encoding="utf-8")
    (tmp_path / "s.csv").write_text("station,rod\n0,6.0\n20,5.8\n40,5.6\n", encoding="utf-8")
    assert main(["asbuilt", str(tmp_path / "d.csv"), str(tmp_path / "s.csv"), "--hi", "102"]) == 2
    assert capsys.readouterr().err.splitlines() == ["d.csv, row 2, station: is '0+4'. Write 0+40 or 40."]


@pytest.mark.parametrize(
    "given", [["--hi", "999"], ["--hi", "10.2"], ["--benchmark", "10.00", "--backsight", "1.84"], ["--hi", "31.04"]]
)
def test_a_height_of_instrument_that_sees_nothing_of_the_plan_condemns_no_pipe(rods, given, capsys):
    """Good pipe was told to be dug up, 896 ft high.

    HI and plan are not of one datum or unit, as the cut sheet has it.
    """
    assert main(["asbuilt", "95.50@1.00", rods(GOOD), *given]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.strip().splitlines()) == 1
    height = {"--hi": given[1], "--benchmark": "11.84"}[given[0]]
    assert told.err.startswith(f"{' and '.join(given[::2])}: ")
    assert f"{float(height):.2f} ft" in told.err
    assert "95.50 ft" in told.err  # where the plan lies


def test_a_record_refuses_such_a_height_as_the_cut_sheet_does(day, rods, capsys):
    """One plausibility for whoever stands at an instrument."""
    folder = str(day())
    for command in (
        ["cutsheet", folder],
        ["asbuilt", folder, rods(GOOD)],
        ["record", folder, rods(GOOD), "--out", "r"],
    ):
        assert main([*command, "--hi", "999"]) == 2
        told = capsys.readouterr()
        assert told.out == ""
        assert "--hi: 999.00 ft" in told.err
        assert "another datum or unit" in told.err


@pytest.mark.parametrize("key", ["hi", "benchmark", "backsight"])
def test_the_file_and_the_options_that_say_two_set_ups_are_both_named(rods, key, capsys):
    """The option won without a word."""
    kept = {"hi": "101.84"} if key == "hi" else {"benchmark": "100.00", "backsight": "1.84"}
    text = "".join(f"# {name} = {value}\n" for name, value in kept.items()) + GOOD
    other = f"{float(kept[key]) + 1:.2f}"
    assert main(["asbuilt", "95.50@1.00", rods(text), f"--{key}", other]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.strip().splitlines()) == 1
    for part in (f"--{key}", "rods.csv", f"{other} ft", f"{float(kept[key]):.2f} ft"):
        assert part in told.err
    assert main(["asbuilt", "95.50@1.00", rods(text), f"--{key}", kept[key] + "0"]) == 0  # the same, typed otherwise
    assert main(["asbuilt", "95.50@1.00", rods(text)]) == 0


def test_a_height_in_the_file_that_is_not_the_options_mark_and_rod_is_named_by_its_file(rods, capsys):
    """It was told as --hi, which nobody had typed."""
    assert main(["asbuilt", "95.50@1.00", rods("# hi = 102.84\n" + GOOD), *HI]) == 2
    err = capsys.readouterr().err
    assert err.startswith("rods.csv, hi: 102.84 ft")
    assert "101.84 ft" in err


def test_good_pipe_shot_from_a_height_ten_feet_off_is_not_dug_up(sample_plan, tmp_path, capsys):
    """A slip of the pen within a rod's reach.

    The line as a whole stands off, no mark was shot, so pipe and datum are not told apart.
    """
    out = sample_plan("alder-court").folder
    assert main(["cutsheet", str(out), "--hi", "104.20", "--json"]) == 0
    lines = json.loads(capsys.readouterr().out)["lines"]
    rods = [
        f"{line['line']},{target['printed']['station']},{target['printed']['rod_top']}"
        for line in lines
        for target in line["targets"]
        if line["line"] == "L4"
    ]
    shots = tmp_path / "rods.csv"
    shots.write_text("line,station,rod\n" + "\n".join(rods) + "\n")
    assert main(["asbuilt", str(out), str(shots), "--hi", "104.20", "--line", "L4", "--json"]) == 0
    capsys.readouterr()
    assert main(["asbuilt", str(out), str(shots), "--hi", "114.20", "--line", "L4", "--json"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert record["verdict"] == "cannot-tell"
    assert record["relay"] == []
