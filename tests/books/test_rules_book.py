"""The book of rules: keys derived, overrides judged, nothing guessed."""

from __future__ import annotations

import pytest

from siteplan.books import rules
from siteplan.errors import InputError, InputErrors


def test_ids_are_unique_and_every_limit_has_a_source():
    ids = [rule.id for rule in rules.RULES]
    assert len(ids) == len(set(ids))
    for rule in rules.RULES:
        assert rule.source
        assert rule.title
        assert rule.applies
        if rule.dimension != "none" and rule.limit is not None:
            assert rules.settings_keys(rule)


def test_an_override_keeps_what_it_replaced_and_one_that_changes_nothing_says_so():
    book = rules.rule_book({"min_grade_percent": 2, "max_depth_ft": 4.5})
    assert rules.limit(book, rules.MIN_GRADE) == pytest.approx(0.02)
    assert book["min-grade"].replaced == "1 percent"
    assert "same as the default" in book["max-depth"].source


def test_unknown_is_a_value_where_a_line_can_be_laid_without_it():
    book = rules.rule_book({"clear_of_trees_ft": "unknown"})
    assert rules.limit(book, rules.CLEAR_OF_TREES) is None
    assert rules.outward(book["clear-of-trees"]) == (None, "m")


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"min_covr_in": 3}, "Did you mean min_cover_in?"),
        ({"min_cover_percent": 3}, "min_cover_in"),
        ({"min_cover": 3}, "has no unit that fits min-cover"),
        ({"min_grade_percent": "unknown"}, "cannot be unknown"),
        ({"min_grade_percent": True}, "Give a number"),
        ({"min_grade_percent": -1}, "Give a number"),
        ({"min_grade_percent": float("nan")}, "Give a number"),
        ({"min_grade_percent": float("inf")}, "Give a number"),
        ({"min_grade_percent": 10**400}, "Give a number"),
        ({"min_grade_percent": "1 %"}, "Give a number"),
        ({"min_cover_in": 12, "min_cover_ft": 1}, "a second time"),
    ],
)
def test_a_bad_override_is_one_line_that_names_file_and_key(given, told):
    with pytest.raises(InputError) as caught:
        rules.rule_book(given)
    text = str(caught.value)
    assert text.startswith("site.toml, [rules] ")
    assert told in text
    assert "\n" not in text


def test_faults_are_gathered():
    with pytest.raises(InputErrors) as caught:
        rules.rule_book({"nonsense": 1, "min_cover_in": -1})
    assert len(str(caught.value).splitlines()) == 2


def test_limits_leave_in_metres_percent_and_degrees():
    book = rules.rule_book({})
    assert rules.outward(book["min-grade"]) == (1.0, "percent")
    assert rules.outward(book["bend"]) == (45.0, "deg")
    assert rules.outward(book["min-cover"])[0] == pytest.approx(0.3048)


@pytest.mark.parametrize(
    ("key", "most"),
    [
        ("min_cover_m", 10_000),  # a lot's plan is shorter and less deep
        ("min_grade_ratio", 10),
        ("min_grade_percent", 1000),
        ("crossing_angle_deg", 180),
        ("self_cleaning_m_per_s", 100),
        ("pump_cycle_s", 1e6),
        ("low_spot_doubt", 1000),
    ],
)
def test_a_limit_that_no_plan_of_a_lot_holds_is_refused_with_what_it_may_be(key, most):
    """Bounds of ours: a slip of the finger or of the unit is refused, whatever anybody builds is not."""
    rules.rule_book({key: most})
    with pytest.raises((InputError, InputErrors), match=f"give {most:g} at most".replace("+", r"\+")):
        rules.rule_book({key: most * 1.01})
