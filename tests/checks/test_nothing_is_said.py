"""A difference that prints as nought is said as nothing, or as less than the last figure.

No '0.0 in to spare', no '-0.00 %'.
"""

from types import SimpleNamespace

import pytest

from siteplan.books import rules
from siteplan.checks.report import HEIGHT, ruled
from siteplan.checks.scene import Words
from siteplan.sheets.margin_words import margin_texts
from siteplan.values.lines import Margin

FOOT, INCH = 0.3048, 0.0254


@pytest.mark.parametrize(
    ("unit", "over", "said"),
    [
        ("ft", 0.04 * INCH, "12.0 in asked, nothing to spare"),
        ("ft", -0.04 * INCH, "12.0 in asked, short by less than the last figure"),
        ("ft", 0.2 * INCH, "12.0 in asked, 0.2 in to spare"),
        ("m", 0.0004, "305 mm asked, nothing to spare"),
    ],
)
def test_a_finding_prints_no_nought_to_spare(unit, over, said):
    scene = SimpleNamespace(words=Words(unit, unit))
    found = ruled(
        scene, rules.MIN_COVER, "L1", FOOT + over, measure=HEIGHT, said="cover", where="", limit=FOOT, doubt=3 * INCH
    )
    assert said in found.message


def test_margins_print_no_nought_and_no_minus_nought():
    margins = tuple(
        Margin(rule=rule, held=held, asked=0.01, cost=0.0, station=None, short_of="drawn")
        for rule, held in ((rules.MIN_COVER.id, 0.04 * INCH), (rules.MIN_GRADE.id, -1e-6))
    )
    past, short = margin_texts(SimpleNamespace(margins=margins, cost=10.0), "ft")
    assert past == "past the limits: cover nothing, grade nothing; they cost nothing"
    assert short == "short of what is wanted: cover nothing of 0.4 in, grade nothing of 1.00 %: it lies as it was drawn"
