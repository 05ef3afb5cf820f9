"""On a metric site the cut sheet's cover in millimetres is the schedule's in metres, at every stake."""

from __future__ import annotations

import csv
import json

from siteplan.cli.main import main


def test_schedule_and_cut_sheet_print_one_cover(sample_plan, capsys):
    folder = sample_plan("marsh-lane").folder
    capsys.readouterr()
    assert main(["cutsheet", str(folder), "--hi", "6.0", "--json"]) == 0
    sheet = json.loads(capsys.readouterr().out)
    with (folder / "trench_schedule.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = {(row["line"], row["station"]): row for row in csv.DictReader(file)}
    compared = 0
    for line in sheet["lines"]:
        for target in line["targets"]:
            row = rows[line["line"], target["printed"]["station"]]
            assert int(target["printed"]["cover"]) == round(1000 * float(row["cover_m"])), row["station"]
            assert target["printed"]["trench_bottom"] == row["trench_bottom_m"]
            assert target["printed"]["top"] == row["top_of_pipe_m"]
            compared += 1
    assert compared == len(rows)
