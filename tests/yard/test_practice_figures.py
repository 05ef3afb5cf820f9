"""How far a change is offered and what a careful shot is worth: common practice, no source, held so that none moves unseen."""

from __future__ import annotations

import pytest

from siteplan.yard import cures, doubts

FOOT = 0.3048


def test_a_careful_shot_is_read_to_a_hundredth_of_a_foot():
    """The project's reference page on the trade, section 4: turning points and benchmarks are read to 0.01 ft."""
    assert pytest.approx(0.01 * FOOT) == doubts.CAREFUL


def test_changes_are_offered_no_farther_than_somebody_would_build():
    assert pytest.approx(60 * FOOT, abs=0.3) == cures.LONGEST_ZONE  # some 60 ft of thin cover
    assert cures.LEAST_COVER_SHARE == 0.5  # half of the default cover
    assert pytest.approx(10 * FOOT, abs=0.1) == cures.DEEPEST  # some 10 ft of trench
    assert pytest.approx(6 * 0.0254, abs=0.005) == cures.HEAD  # a pop-up's rim half a foot under its source
    assert pytest.approx(1.5 * FOOT, abs=0.01) == cures.MOST_FILL  # a foot and a half of fill
