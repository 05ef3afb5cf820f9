"""The default limits beside what codes and standards print. Each row of limits.csv carries its source and standing."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from siteplan.books.rules import MIN_GRADE, RULES, rule_book
from siteplan.routes.yard import root_radius
from siteplan.units import INCH

ROWS = list(csv.DictReader(Path(__file__).with_name("limits.csv").read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_default_limit_beside_the_published_one(row):
    limit = rule_book({})[row["rule"]].limit
    value = float(row["value"])
    assert limit is not None
    if row["relation"] == "equal":
        assert limit == pytest.approx(value, rel=1e-9)
    elif row["relation"] == "near":
        assert limit == pytest.approx(value, rel=0.05)
        assert "1/8 in per ft" in MIN_GRADE.caution, "where we differ from the source the rule says so"
    elif row["relation"] == "not above":
        assert limit <= value
    elif row["relation"] == "not below":
        assert limit >= value
    else:
        assert row["relation"] == "per inch of trunk"
        for inches in (4, 12, 30):
            assert root_radius(inches * INCH) == pytest.approx(inches * value, rel=1e-9)


def test_every_row_names_its_source():
    for row in ROWS:
        assert all(row[key] for key in ("title", "place", "standing", "unit"))
        assert row["rule"] in {rule.id for rule in RULES}


@pytest.mark.parametrize(
    ("key", "number", "metres"),
    [
        ("min_cover_in", 24, 0.6096),
        ("min_cover_mm", 600, 0.6),
        ("min_cover_ft", 2, 0.6096),
        ("min_cover_us_ft", 2, 2 * 1200 / 3937),
    ],
)
def test_a_site_takes_the_stricter_published_cover_in_any_unit(key, number, metres):
    entry = rule_book({key: number})["min-cover"]
    assert entry.limit == pytest.approx(metres, rel=1e-12)
    assert entry.replaced == "12 in"
