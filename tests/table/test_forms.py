"""The forms of a site: every key with its unit, limits and source.

A value that no command would read is refused in the command's own words.
"""

from __future__ import annotations

import tomllib

import pytest

from siteplan.cli.main import main


def _set(asking, **keys):
    return asking.change(
        lambda document: document["settings"].update({k.replace("__", "."): v for k, v in keys.items()})
    )


def _fields(asking):
    groups = asking.get("state")[1]["forms"]["settings"]
    return {field["key"]: field for group in groups for field in group["fields"]}


def test_a_field_has_its_unit_limits_and_source(alder):
    fields = _fields(alder)
    walk = fields["costs.walk"]
    assert (walk["usual"], walk["unit"]) == (6.0, "per m")
    sure = fields["trench.certainty"]
    assert sure["usual"] == 0.95
    assert "0.5 to 0.999" in sure["note"]
    # an accuracy that is not given is a tenth of a foot, as the plan says among its assumptions
    assert (fields["ground.accuracy"]["usual"], fields["ground.accuracy"]["unit"]) == (0.1, "ft")
    assert fields["rainfall.intensity"]["unit"] == "in/h"
    assert {"trench.frost_depth_in", "search.steps", "costs.pipe.pvc_sdr35", "plat.sides", "confirm"} <= set(fields)
    assert "trench.frost_depth_mm" not in fields  # one of a family, in the unit that the site's people use
    assert all(field["note"] for key, field in fields.items() if key.startswith("rules."))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("trench.certainty", 2),
        ("trench.certainty", "sure"),
        ("trench.frost_depth_in", -1),
        ("costs.walk", "dear"),
        ("costs.pipe.pvc_sdr35", -0.5),
        ("search.steps", 1.5),
        ("search.gap_percent", 1e6),
        ("ground.accuracy", 0),
        ("ground.strip", "wide"),
        ("plat.sides", [90, 140]),
        ("rainfall.table", [[5, 7], [10, 9]]),
        ("rainfall.table", "five minutes"),
        ("rainfall.years", -2),
        ("water.design_fill", 1.5),
        ("water.basis", "guess"),
        ("rules.min_cover_in", "x"),
        ("rules.downspout_to_curb", "perhaps"),
        ("rule_profile", "town.toml"),
        ("confirm", "DS-1"),
        ("crs", "EPSG:99999"),
        ("length_unit", "yard"),
    ],
)
def test_a_bad_value_is_refused_in_the_commands_words(alder, bytes_of, tmp_path, capsys, key, value):
    """Beside its field stands just what the command says of the same file written by hand."""
    from siteplan.table.toml_lines import with_keys

    text = (alder.folder / "site.toml").read_text(encoding="utf-8")
    before = bytes_of(alder.folder)
    status, told = _set(alder, **{key: value})
    assert status == 422
    (fault,) = told["faults"]
    assert fault["key"] == key
    assert bytes_of(alder.folder) == before
    by_hand = tmp_path / "by-hand"
    by_hand.mkdir()
    for name, data in before.items():
        (by_hand / name).write_bytes(data)
    (by_hand / "site.toml").write_text(with_keys(text, {key: value}, "site.toml"), encoding="utf-8")
    assert main(["plan", str(by_hand), "--out", str(tmp_path / "out")]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert " ".join(f"{fault['where']}: {fault['what'].rstrip('.')}. {fault['mend']}".split()) in said


def test_only_what_differs_is_written(alder):
    """And a key emptied again leaves the file as it was, with the section that was made for it."""
    before = (alder.folder / "site.toml").read_bytes()
    keys = {
        "costs.walk": 7,
        "costs.pipe.pvc_sdr35": 0.3,
        "trench.frost_depth_in": 20,
        "plat.sides": [90, 140, 90, 140],
        "confirm": ["DS-1, roof_area"],
        "rules.min_cover_in": 14,
        "search.steps": 80,
    }
    assert _set(alder, **keys)[0] == 200
    told = tomllib.loads((alder.folder / "site.toml").read_text(encoding="utf-8"))
    assert told["costs"] == {"walk": 7, "pipe": {"pvc_sdr35": 0.3}}
    assert (told["plat"], told["confirm"]) == ({"sides": [90, 140, 90, 140]}, ["DS-1, roof_area"])
    assert alder.get("state")[1]["settings"].items() >= keys.items()
    assert _set(alder, **dict.fromkeys(keys))[0] == 200
    assert (alder.folder / "site.toml").read_bytes() == before


def test_keys_that_hang_together_are_judged_together(alder):
    """A table of rain beside an intensity is refused; in its place it is taken."""
    assert _set(alder, **{"rainfall.table": [[5, 7.2], [10, 5.9]]})[0] == 422
    assert _set(alder, **{"rainfall.table": [[5, 7.2], [10, 5.9]], "rainfall.intensity": None})[0] == 200
    told = tomllib.loads((alder.folder / "site.toml").read_text(encoding="utf-8"))
    assert told["rainfall"] == {"table": [[5, 7.2], [10, 5.9]]}


def test_what_is_only_missing_is_no_fault(tmp_path, serve):
    """A folder that lacks a lot, units and ground takes settings one by one."""
    assert main(["new", str(tmp_path / "new")]) == 0
    with serve(tmp_path / "new") as asking:
        for key, value in (("rainfall.duration", 10), ("water.pipe", "pvc_sch40"), ("trench.vehicle", "truck")):
            assert _set(asking, **{key: value})[0] == 200, key


def test_the_rules_of_the_place_are_the_limits_shown(alder):
    (alder.folder / "town.toml").write_text(_TOWN, encoding="utf-8")
    assert _set(alder, rule_profile="town.toml")[0] == 200
    field = _fields(alder)["rules.min_cover_in"]
    assert field["usual"] == 18
    assert "Elm Hollow drainage ordinance" in field["note"]


_TOWN = """
[jurisdiction]
name = "Town of Elm Hollow"
date = "2024-01-01"
note = "invented"

[[rule]]
id = "min-cover"
value = 18
unit = "in"
source = "Elm Hollow drainage ordinance, section 4"
date = "2024-01-01"
status = "code"
"""


def test_every_attribute_of_a_kind_has_a_field(alder):
    from siteplan.books.kinds import OUTLETS, SOURCES

    kinds = {
        kind["kind"]: {field["key"] for field in kind["fields"]} for kind in alder.get("state")[1]["forms"]["kinds"]
    }
    for kind, row in {**SOURCES, **OUTLETS}.items():
        assert {key for key in row.keys if key != "takes_flow"} <= kinds[kind], kind
    assert "takes_gpm" in kinds["tie_in"]
    assert {"inverts", "grade_percent", "mode", "pipe", "from", "to"} <= kinds["drain"]
