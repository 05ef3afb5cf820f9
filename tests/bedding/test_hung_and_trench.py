"""Hangers, sleeves, trench, frost: the usual figures come out, and the sentences say what they must."""

import pytest

from siteplan import units as u
from siteplan.bedding import hung, sleeve, trench
from siteplan.bedding.beam import bend
from siteplan.bedding.weight import weight_in_air
from siteplan.books.stock import stock, stocks

IN, FT, PSI = u.INCH, u.FOOT, u.PSI


class TestTradeFacts:
    """Common practice, no source."""

    def test_hanger_every_four_feet_for_four_inch_pvc(self):
        assert hung.hanger_spacing(stock("pvc_sch40", "4 in")).use / FT == pytest.approx(4.0)

    def test_and_five_feet_which_some_use_still_drains_at_one_percent(self):
        found = hung.hanger_spacing(stock("pvc_sch40", "4 in"), 0.01)
        assert 5 < found.by_grade / FT < 7
        assert (
            hung.hang(stock("pvc_sch40", "4 in"), 5 * FT).slope
            < 0.01
            < hung.hang(stock("pvc_sch40", "4 in"), 7 * FT).slope
        )

    def test_sixty_feet_in_the_air_breaks(self):
        assert 40 < hung.breaking_span(stock("pvc_sch40", "4 in")) / FT < 60
        assert hung.breaking_span(stock("pe_corr_single", "4 in")) is None

    def test_six_inch_sleeve_over_four(self):
        for kind in ("pvc_sch40", "pvc_sdr35"):
            same = [entry for entry in stocks() if entry.pipe.kind == kind]
            found = sleeve.sleeve_for(stock(kind, "4 in"), 12 * FT, same)
            assert found.stock.pipe.nominal == "6 in"
            assert found.play > 0
            assert found.length == pytest.approx(14 * FT)

    def test_four_over_three_does_not_pass_its_coupling(self):
        assert sleeve.sleeve_fit(stock("pvc_sch40", "3 in"), stock("pvc_sch40", "4 in")).play < 0


def test_sleeve_passes_the_coupling_not_only_the_pipe():
    solid = [entry for entry in stocks() if entry.pipe.kind == "pvc_sch40"]
    carrier = stock("pvc_sch40", "3 in")
    assert stock("pvc_sch40", "4 in").pipe.bore > carrier.pipe.od
    assert sleeve.sleeve_for(carrier, 1.0, solid).stock.pipe.nominal == "6 in"


def test_no_sleeve_over_the_largest():
    assert sleeve.sleeve_for(stock("pvc_sch40", "8 in"), 1.0, stocks()) is None


@pytest.mark.parametrize("held", ["simple", "fixed"])
def test_span_by_beam(held):
    pipe, span = stock("pvc_sch40", "4 in"), 10 * FT
    end = "pinned" if held == "simple" else "fixed"
    bent = bend(
        span, bending=pipe.bending_long, modulus=0.0, load=weight_in_air(pipe, 1.0), ends=(end, end), breaks=[span / 2]
    )
    found = hung.hang(pipe, span, held=held)
    assert found.sag_long == pytest.approx(bent.sag.max(), rel=1e-4)
    assert found.slope == pytest.approx(bent.slope[0, 1], rel=1e-4, abs=1e-12)
    section = pipe.bending_long / pipe.modulus_long / (pipe.pipe.od / 2)
    assert found.stress == pytest.approx(abs(bent.moment).max() / section, rel=1e-3)
    with pytest.raises(ValueError, match="above 0"):
        hung.hang(pipe, 0.0)


def test_limp_pipe_is_carried_on_a_tray():
    found = hung.hanger_spacing(stock("pe_corr_single", "4 in"))
    assert found.use is None
    assert found.by_sag < 0.5 * FT


def test_spacing_never_passes_the_code_and_never_the_sag():
    for pipe in stocks():
        found = hung.hanger_spacing(pipe)
        if found.use is not None:
            assert found.use <= min(found.by_sag, hung.CODE_SPACING) + 1e-9
            assert hung.hang(pipe, found.use).sag_long <= found.use / 1000 * (1 + 1e-9)


def test_bedding_sentences():
    soft = trench.bedding_rule(4.5 * IN, "soft", narrow=12 * IN)
    assert soft[0].startswith("Over-dig 9 in (two diameters) or more")
    assert "20.5 in of ASTM D2321" in soft[-1]
    assert len(trench.bedding_rule(4.5 * IN, "firm", narrow=24 * IN)) == 3
    assert "Take out 3 in of rock" in trench.bedding_rule(4.5 * IN, "rock")[0]
    assert "never with loose spoil" in trench.bedding_rule(4.5 * IN, "over_dug")[0]
    assert "No stone over 3/4 in" in trench.bedding_rule(4.5 * IN, "firm")[1]
    with pytest.raises(ValueError, match="firm, rock, soft, over_dug"):
        trench.bedding_rule(4.5 * IN, "swamp")


def test_trench_sentences_by_depth():
    assert len(trench.trench_notes(3 * FT)) == 1
    assert "ladder" in trench.trench_notes(4 * FT)[0]
    assert "shoring" in trench.trench_notes(5 * FT)[0]
    assert "engineer" in trench.trench_notes(20 * FT)[0]
    assert "competent person" in trench.trench_notes(1 * FT)[-1]


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
