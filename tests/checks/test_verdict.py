"""The one place where a status is decided."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from siteplan.checks.verdict import answer, codes, margins, status

sane = st.floats(-1e3, 1e3, allow_nan=False)
doubts = st.floats(0, 10, allow_nan=False)


@pytest.mark.parametrize(
    ("value", "limit", "sense", "doubt", "slack", "said"),
    [
        (0.30, 0.30, "at least", 0.0, 0.0, "kept"),
        (0.2996, 0.30, "at least", 0.0, 0.0005, "kept"),
        (0.2994, 0.30, "at least", 0.0, 0.0005, "broken"),
        (0.33, 0.30, "at least", 0.02, 0.0005, "kept"),
        (0.3196, 0.30, "at least", 0.02, 0.0005, "kept"),
        (0.3194, 0.30, "at least", 0.02, 0.0005, "cannot tell"),
        (0.30, 0.30, "at least", 0.02, 0.0005, "cannot tell"),
        (0.2801, 0.30, "at least", 0.02, 0.0005, "cannot tell"),
        (0.2799, 0.30, "at least", 0.02, 0.0005, "broken"),
        (1.0, 1.2, "at most", 0.1, 0.0, "kept"),
        (1.15, 1.2, "at most", 0.1, 0.0, "cannot tell"),
        (1.31, 1.2, "at most", 0.1, 0.0, "broken"),
        (1.0, None, "at most", 0.1, 0.0, "limit not known"),
    ],
)
def test_answer(value, limit, sense, doubt, slack, said):
    assert answer(value, limit, sense, doubt=doubt, slack=slack) == said


def test_status():
    assert [status("kept", kind) for kind in ("fail", "flag")] == ["pass", "pass"]
    assert [status("broken", kind) for kind in ("fail", "flag")] == ["fail", "flag"]
    assert {status(said, "fail") for said in ("cannot tell", "limit not known")} == {"flag"}


def test_refuses_nonsense():
    with pytest.raises(ValueError, match="sense is 'about'"):
        answer(1.0, 1.0, "about")
    with pytest.raises(ValueError, match="0 or above"):
        codes(np.zeros(1), doubt=-1.0, slack=0.0)


@settings(max_examples=100, derandomize=True)
@given(sane, sane, doubts, st.sampled_from(["at least", "at most"]))
def test_more_margin_is_never_worse_and_more_doubt_never_decides(value, limit, doubt, sense):
    order = {"kept": 0, "cannot tell": 1, "broken": 2}
    step = 0.5 if sense == "at least" else -0.5
    here = answer(value, limit, sense, doubt=doubt)
    assert order[answer(value + step, limit, sense, doubt=doubt)] <= order[here]
    surer = answer(value, limit, sense, doubt=doubt / 2)
    assert here in {surer, "cannot tell"}


@settings(max_examples=50, derandomize=True)
@given(st.lists(sane, min_size=1, max_size=8), sane, doubts)
def test_many_are_judged_like_one(values, limit, doubt):
    margin = margins(np.array(values), limit, "at least")
    names = ("kept", "cannot tell", "broken")
    each = [names[code] for code in codes(margin, doubt=doubt, slack=1e-6)]
    assert each == [answer(value, limit, "at least", doubt=doubt, slack=1e-6) for value in values]
