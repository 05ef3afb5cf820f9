"""Two revisions: clouds on the plan sheet where something changed, and a table of what, under the same numbers."""

from __future__ import annotations

import json
import re
import shutil
import subprocess

import pytest

from siteplan.cli.main import main


def text_of(file):
    return subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True, text=True).stdout


@pytest.fixture(scope="module")
def two(sample_plan, tmp_path_factory):
    """A plan, and the same where one line lies 0.1 m deeper at its start and an outlet's invert has moved."""
    folder = sample_plan("marsh-lane").folder
    other = tmp_path_factory.mktemp("two") / "after"
    shutil.copytree(folder, other)
    record = json.loads((other / "plan.json").read_text(encoding="utf-8"))
    line = record["lines"][0]
    line["vertices"][-1]["invert"] -= 0.1
    (other / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    return folder, other, line


def test_the_table_says_before_and_after_and_the_plan_bears_its_number(two, tmp_path, capsys):
    before, after, line = two
    out = tmp_path / "changes.pdf"
    assert main(["sheets", str(after), "--against", str(before), "--parts", "plan,changes", "--out", str(out)]) == 0
    text = text_of(out)
    table = text[text.index("on the plan") if "on the plan" in text else text.index("whose") :]
    row = next(one for one in table.splitlines() if re.search(r"\binvert\b", one))
    changed = line["vertices"][-1]["invert"]
    assert f"{changed + 0.1:.3f} m" in row
    assert f"{changed:.3f} m" in row
    number = re.search(r"\u25b3 ?(\d+)", row)[1]
    plan_page = text.split("\f")[0]
    assert re.search(rf"\u25b3 ?{number}\b", plan_page)
    assert "Changed since the plan before" in " ".join(plan_page.split())
    capsys.readouterr()
    assert main(["compare", str(before), str(after), "--json"]) in {0, 1}
    for one in json.loads(capsys.readouterr().out)["changed"]:
        assert one["subject"] == "plan" or one["subject"].split(" to ")[0] in table, one


def test_the_same_plan_has_no_cloud(two, tmp_path):
    before, _, _ = two
    out = tmp_path / "same.pdf"
    assert main(["sheets", str(before), "--against", str(before), "--parts", "plan,changes", "--out", str(out)]) == 0
    text = text_of(out)
    assert "Nothing that a crew or an inspector reads is changed." in text
    assert "\u25b3" not in text


def test_another_folder_that_is_no_plan_is_refused(two, tmp_path, capsys):
    assert main(["sheets", str(two[0]), "--against", str(tmp_path), "--out", str(tmp_path / "no.pdf")]) == 2
    assert "the first plan" in capsys.readouterr().err
    assert not (tmp_path / "no.pdf").exists()
