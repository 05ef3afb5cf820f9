"""Sleeves, bedding, frost: the usual figures come out, and the sentences say what they must."""

import pytest

from siteplan import units as u
from siteplan.bedding import sleeve, trench
from siteplan.books.stock import stock, stocks

IN = u.INCH


def _smallest_round(carrier, among):
    """Nominal size of the smallest pipe that a carrier's coupling passes, as it would be threaded on site."""
    fits = [one for one in among if sleeve.sleeve_fit(carrier, one).play > 0]
    return min(fits, key=lambda one: one.pipe.bore).pipe.nominal if fits else None


def test_six_inch_sleeve_over_four_and_over_three():
    """Common practice, no source. Four over three passes the pipe and not its coupling."""
    for kind in ("pvc_sch40", "pvc_sdr35"):
        same = [entry for entry in stocks() if entry.pipe.kind == kind]
        assert _smallest_round(stock(kind, "4 in"), same) == "6 in"
    solid = [entry for entry in stocks() if entry.pipe.kind == "pvc_sch40"]
    assert stock("pvc_sch40", "4 in").pipe.bore > stock("pvc_sch40", "3 in").pipe.od
    assert _smallest_round(stock("pvc_sch40", "3 in"), solid) == "6 in"
    assert _smallest_round(stock("pvc_sch40", "8 in"), stocks()) is None


def test_bedding_sentences():
    soft = trench.bedding_rule(4.5 * IN, "soft")
    assert soft[0].startswith("Over-dig 9 in (two diameters) or more")
    firm = trench.bedding_rule(4.5 * IN, "firm")
    assert "by hand at the end" in firm[0]
    assert "No stone over 3/4 in" in firm[1]
    assert "Clean fill to 12 in over the pipe" in firm[2]
    with pytest.raises(ValueError, match="firm, soft"):
        trench.bedding_rule(4.5 * IN, "swamp")


def test_frost_sentences():
    assert "not known" in trench.frost_note(None, 0.4, empties=True)
    assert "below frost" in trench.frost_note(0.9, 1.0, empties=True)


def test_every_fact_has_a_source_and_a_standing():
    assert len({entry.id for entry in trench.FACTS}) == len(trench.FACTS)
    for entry in trench.FACTS:
        assert entry.source
        assert entry.basis in {"read", "memory"}
        assert entry.authority in {"law", "code", "standard", "practice", "local"}
    with pytest.raises(KeyError, match="no trench rule"):
        trench.fact("none")
