"""The declared keys of site.toml.

Readers know just these, and what is said to hold where nothing is written is what holds.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from siteplan.survey.settings import faults_of_table, read_settings
from siteplan.survey.site_keys import KEYS, keys_of, unit_said, usual_said
from siteplan.table.toml_lines import with_keys

ALDER = Path(__file__).parents[2] / "sample_sites" / "alder-court"
_USUAL = [one for one in KEYS if one.usual is not None and one.name not in {"water.kb_mm", "rainfall.table_gives"}]


@pytest.fixture(scope="module")
def alder_text():
    return (ALDER / "site.toml").read_text(encoding="utf-8")


def test_every_declared_key_is_read(alder_text):
    """Each with a value that no reader takes: it is the value that is refused, and not the key."""
    idle = []
    for one in KEYS:
        section, _, key = one.name.rpartition(".")
        table = tomllib.loads(alder_text)
        inner = table
        for part in section.split(".") if section else ():
            inner = inner.setdefault(part, {})
        inner[key] = {"no": [True, {}]}
        faults = faults_of_table(ALDER, table)
        if not faults or any("not known" in fault.what for fault in faults):
            idle.append(one.name)
    assert idle == []


@pytest.mark.parametrize("section", ["", "ground", "rainfall", "water", "trench", "costs", "plat", "search"])
def test_a_key_that_is_not_declared_is_not_read(alder_text, section):
    name = f"{section}.frontage" if section else "frontage"
    (fault,) = faults_of_table(ALDER, tomllib.loads(with_keys(alder_text, {name: 1}, "site.toml")))
    assert "known" in fault.what
    assert "frontage" not in keys_of(section)


@pytest.mark.parametrize("one", _USUAL, ids=[one.name for one in _USUAL])
def test_what_holds_where_nothing_is_written(tmp_path, alder_text, one):
    """Written out, it changes nothing but what is noted as assumed."""
    for file in ALDER.iterdir():
        if file.is_file():
            (tmp_path / file.name).write_bytes(file.read_bytes())

    def settings(value):
        (tmp_path / "site.toml").write_text(with_keys(alder_text, {one.name: value}, "site.toml"), encoding="utf-8")
        found = read_settings(tmp_path)
        rain = replace(found.rain, duration=None) if one.name == "rainfall.duration" else found.rain
        accuracy = 0.0 if one.name == "ground.accuracy" else found.accuracy
        return replace(found, assumptions=(), rain=rain, accuracy=accuracy), found.accuracy

    told, accuracy = settings(usual_said(one, "ft"))
    kept, without = settings(None)
    assert told.laying.prices == pytest.approx(kept.laying.prices)
    assert told.laying.pipe_prices == pytest.approx(kept.laying.pipe_prices)
    assert accuracy == pytest.approx(without, abs=1e-6)
    for name in ("sizing", "ground"):
        assert getattr(told, name) == getattr(kept, name)
    for name in (
        "frost",
        "backfill",
        "backfill_depth",
        "wet_layer",
        "wet_soil",
        "vehicle",
        "certainty",
        "coupling",
        "effort",
    ):
        assert getattr(told.laying, name) == pytest.approx(getattr(kept.laying, name)) or getattr(
            told.laying, name
        ) == getattr(kept.laying, name)


def test_units_are_the_sites_own():
    said = {one.name: (unit_said(one, "m", "m"), unit_said(one, "us-ft", "us-ft")) for one in KEYS}
    assert said["rainfall.intensity"] == ("mm/h", "in/h")
    assert said["ground.accuracy"] == ("m", "us-ft")
    assert said["plat.area"] == ("m²", "sq ft")
    assert said["search.seconds"] == ("s by the clock", "s by the clock")
