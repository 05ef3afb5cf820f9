"""The book of pipes: every row against its own arithmetic and the reference, and a site's own pipes laid on top."""

import csv
import json
import math
from pathlib import Path

import pytest

from siteplan import units as u
from siteplan.books import pipes
from siteplan.books.stock import BASES, COLUMNS, faults_of, stock, stocks
from siteplan.books.stock_text import pipes_as_json, pipes_as_text
from siteplan.cli.main import main
from siteplan.errors import InputError, InputErrors

SHARED = Path(__file__).parents[3] / "shared" / "reference" / "pipes.csv"
IN, FT, PSI, EI = u.INCH, u.FOOT, u.PSI, u.POUND_INCH2
each = pytest.mark.parametrize(
    "entry", stocks(), ids=lambda e: f"{e.pipe.kind}-{e.pipe.nominal}-{dict(e.sources)['dimensions'].split(':')[0]}"
)


@each
def test_row_agrees_with_its_own_arithmetic(entry):
    pipe = entry.pipe
    inner = pipe.od - 2 * pipe.wall
    ratio = pipe.od / pipe.wall
    assert entry.bending_long / entry.bending_short == pytest.approx(entry.modulus_long / entry.modulus_short, rel=0.01)
    if entry.plain_wall:
        ring = math.pi / 64 * (pipe.od**4 - inner**4)
        assert entry.bending_short == pytest.approx(entry.modulus_short * ring, rel=0.002)
        assert pipe.bore == pytest.approx(inner, abs=0.002 * IN)
        assert entry.stiffness == pytest.approx(4.47 * entry.modulus_short / (ratio - 1) ** 3, rel=0.06)
        solid = entry.specific_gravity * 62.4 * u.POUND_PER_CUBIC_FOOT * math.pi / 4 * (pipe.od**2 - inner**2)
        assert 0.97 < entry.weight / solid < 1.10  # the wall is a minimum, so pipe weighs a little more
    else:
        assert entry.bending_factor >= 2
        assert pipe.bore < entry.displaced < pipe.od
    assert entry.displaced <= pipe.od
    assert entry.bell > pipe.od


@each
def test_every_value_has_a_source_and_a_standing(entry):
    named = dict(entry.sources)
    assert set(named) == {
        "dimensions",
        "weight",
        "material",
        "modulus",
        "stiffness",
        "bending",
        "roughness",
        "joint",
        "limit",
        "displaced",
    }
    for text in named.values():
        basis, _, source = text.partition(": ")
        assert basis in BASES
        assert source


def test_every_row_of_the_reference_is_in_the_book():
    if not SHARED.exists():
        pytest.skip("the shared reference does not lie beside this repository")
    rows = list(csv.DictReader(SHARED.read_text(encoding="utf-8").splitlines()))
    assert len(rows) == len(stocks())
    for row in rows:
        entry = stock(row["kind"], f"{row['nominal_in']} in")
        pairs = {
            "od_in": entry.pipe.od / IN,
            "id_in": entry.pipe.bore / IN,
            "weight_lb_per_ft": entry.weight / u.POUND_PER_FOOT,
            "specific_gravity": entry.specific_gravity,
            "E_psi_short": entry.modulus_short / PSI,
            "E_psi_long": entry.modulus_long / PSI,
            "pipe_stiffness_psi": entry.stiffness / PSI,
            "manning_n": entry.pipe.roughness,
            "allowable_deflection_pct": entry.ring_limit * 100,
            "EI_short_lb_in2": entry.bending_short / EI,
            "EI_long_lb_in2": entry.bending_long / EI,
            "EI_uncertainty_factor": entry.bending_factor,
        }
        if row["wall_in"]:
            pairs["wall_in"] = entry.pipe.wall / IN
        for column, ours in pairs.items():
            assert ours == pytest.approx(float(row[column]), rel=1e-9), (row["kind"], row["nominal_in"], column)
        assert entry.standard == row["standard"]
        assert entry.material == row["material"]


def test_the_lean_book_and_the_full_one_agree():
    strong = [pipe for pipe in pipes.catalogue() if pipes.strength(pipe.kind, pipe.nominal) is not None]
    assert strong == [entry.pipe for entry in stocks()]
    assert [(o.kind, o.nominal, o.od, o.bore, o.rise) for o in pipes.outlines()] == [
        (p.kind, p.nominal, p.od, p.bore, p.rise) for p in pipes.catalogue()
    ]
    assert pipes.pipe() == stock().pipe
    for missing in (pipes.pipe, stock):
        with pytest.raises(KeyError, match="no pipe clay 4 in"):
            missing("clay", "4 in")


def test_every_row_of_the_book_is_whole_and_alone():
    book = pipes.rows()
    assert [fault for row in book for fault in faults_of(row, "here")] == []
    assert len({(row["kind"], row["nominal"]) for row in book}) == len(book) == 32
    for row in book:
        told = pipes.roughness_of(row["kind"])
        assert [float(row[name]) for name in ("n_low", "n_new", "n_aged", "n_high")] == [
            told.low,
            told.new,
            told.aged,
            told.high,
        ]
        assert told.low <= float(row["manning_n"]) <= told.high
    metric = pipes.pipe("pvc_metric", "DN 110")
    assert (metric.od, metric.bore, metric.wall) == pytest.approx((0.110, 0.1036, 0.0032), abs=1e-12)
    assert pipes.strength("pvc_metric", "DN 110") is None
    assert pipes.outline_in_book("pvc_metric", "DN 110").bell is None
    assert pipes.outline_in_book("pvc_sdr35", "4") == pipes.outline_in_book("pvc_sdr35", " 4 in ")
    assert pipes.outline_in_book("pvc_sdr35", "DN 4") is None


# ------------------------------------------------------------------ a site's own pipes


def test_a_sites_own_sizes_are_on_offer_beside_the_books():
    own = {
        "one": {"like": "pvc_metric DN 110", "kind": "own_metric", "source": "a sheet"},
        "five": {
            "like": "pvc_metric DN 110",
            "kind": "own_metric",
            "nominal": "DN 125",
            "od_mm": 125,
            "id_mm": 117.6,
            "wall_mm": 3.7,
            "source": "a sheet",
        },
        "blue": {"like": "pvc_sdr35 4 in", "kind": "blue", "n_new": 0.009, "n_aged": 0.012, "source": "a sheet"},
    }
    assert [one.nominal for one in pipes.sizes("own_metric", own)] == ["DN 110", "DN 125"]
    assert pipes.sizes("own_metric", own)[1].bore == pytest.approx(0.1176, abs=1e-12)
    assert pipes.strength("own_metric", "DN 125", own) is None
    assert pipes.strength("blue", "4 in", own).stiffness == stock("pvc_sdr35", "4 in").stiffness
    assert pipes.roughness_of("blue", own)[1:4] == (0.009, 0.012, 0.009)
    assert (pipes.roughness_of("blue", own).aged, pipes.roughness_of("pvc_sdr35", own).aged) == (0.012, 0.013)
    assert "own_metric" not in pipes.kinds()
    with pytest.raises(InputError, match="Sizes of pvc_metric: DN 110"):
        pipes.sizes("pvc_metric", {"five": own["five"] | {"kind": "pvc_metric"}})


@pytest.mark.parametrize(
    ("table", "text"),
    [
        ({"like": "pvc_metric DN 110", "weight_lb_per_ft": 1.2, "source": "x"}, "has no material"),
        ({"like": "pvc_sdr35 4 in", "nominal": "5 in", "nominal_in": 5, "source": "x"}, "gives nominal twice"),
        ({"like": "pvc_sdr35 4 in", "n_new": 0.02, "source": "x"}, "do not grow"),
        ({"like": ["pvc_sdr35 4 in"], "source": "x"}, "is no pipe here"),
    ],
)
def test_own_pipes_in_part(table, text):
    with pytest.raises((InputError, InputErrors)) as caught:
        stocks({"mine": table})
    assert text in str(caught.value)


def test_a_pipe_like_another_takes_the_rest_and_keeps_its_sources_apart():
    own = {
        "thick": {
            "like": "pvc_sch40 4 in",
            "kind": "pvc_thick",
            "weight_lb_per_ft": 2.1,
            "bell_od_mm": 133,
            "source": "the yard's own sheet",
        }
    }
    book = stocks(own)
    made = stock("pvc_thick", "4 in", book)
    assert len(book) == len(stocks()) + 1
    assert made.weight == pytest.approx(2.1 * u.POUND_PER_FOOT)
    assert made.bell == pytest.approx(0.133)
    assert made.pipe.od == stock("pvc_sch40", "4 in").pipe.od
    named = dict(made.sources)
    assert named["weight"] == "site: the yard's own sheet"
    assert named["dimensions"].startswith("site: ")
    assert named["modulus"] == dict(stock("pvc_sch40", "4 in").sources)["modulus"]


def test_same_kind_and_size_replaces_the_book():
    book = stocks({"mine": {"like": "pvc_sdr35 4 in", "lay_length_ft": 13, "source": "delivered lengths"}})
    assert len(book) == len(stocks())
    assert stock("pvc_sdr35", "4 in", book).lay_length == pytest.approx(13 * FT)
    assert stock("pvc_sdr35", "4 in").lay_length == pytest.approx(10 * FT)  # the book itself is untouched


def test_a_whole_pipe_of_the_site():
    numbers = {
        "nominal_in": 5,
        "od_in": 5.563,
        "id_in": 5.047,
        "wall_in": 0.258,
        "manning_n": 0.011,
        "weight_lb_per_ft": 2.9,
        "specific_gravity": 1.4,
        "E_short_psi": 4e5,
        "E_long_psi": 1.4e5,
        "pipe_stiffness_psi": 206,
        "EI_short_lb_in2": 6.06e6,
        "EI_long_lb_in2": 2.12e6,
        "EI_factor": 1.1,
        "ring_limit_pct": 7.5,
        "lay_length_ft": 20,
        "bell_od_in": 6.3,
        "displaced_dia_in": 5.563,
    }
    texts = {
        "kind": "pvc_sch40",
        "title": "solid-wall PVC",
        "standard": "ASTM D1785",
        "material": "PVC",
        "joints": "weld",
        "plain_wall": "yes",
        "source": "a sheet",
    }
    made = stock("pvc_sch40", "5 in", stocks({"five": numbers | texts}))
    assert made.stress_limit is None
    assert made.joint_turn is None
    assert dict(made.sources)["joint"] == "site: a sheet"


@pytest.mark.parametrize(
    ("table", "text"),
    [
        ({"like": "pvc_sch40 4 in"}, 'has no source. Say where its values come from: source = "...".'),
        ({"like": "pvc_sch4 4 in", "source": "x"}, "is no pipe here. Did you mean 'pvc_sch40 4 in'?"),
        (
            {"like": "pvc_sch40 4 in", "od_inn": 4.5, "source": "x"},
            "has 'od_inn', which is no value of a pipe. Did you mean 'od_in'?",
        ),
        ({"like": "pvc_sch40 4 in", "od_in": "wide", "source": "x"}, "od_in is 'wide', not a number"),
        ({"like": "pvc_sch40 4 in", "od_in": True, "source": "x"}, "od_in is True, not a number"),
        ({"like": "pvc_sch40 4 in", "od_in": math.nan, "source": "x"}, "od_in is 'nan'. Give a finite number above 0."),
        ({"like": "pvc_sch40 4 in", "od_in": 4.5, "od_mm": 114, "source": "x"}, "gives od_in twice"),
        ({"like": "pvc_sch40 4 in", "od_in": 3.0, "source": "x"}, "the outside diameter is not above the inside"),
        (
            {"like": "pvc_sch40 4 in", "E_long_psi": 500000, "source": "x"},
            "the long-term modulus is above the short-term one",
        ),
        (
            {"like": "pvc_sch40 4 in", "E_short_psi": 300000, "source": "x"},
            "EI_short is not E times the ring of its wall",
        ),
        ({"like": "pvc_sch40 4 in", "joints": "glue", "source": "x"}, "Choose from weld, gasket, push, coupler"),
        ({"like": "pvc_sch40 4 in", "kind": 7, "source": "x"}, "kind is 7, not text"),
        ({"kind": "clay", "source": "x"}, "has no title, standard"),
        ("4 in", "is no table"),
    ],
)
def test_pipes_that_cannot_be_used(table, text):
    with pytest.raises((InputError, InputErrors)) as caught:
        stocks({"mine": table}, "lot/site.toml")
    assert text in str(caught.value)
    assert str(caught.value).startswith("lot/site.toml, [pipes] mine: ")


def test_faults_are_gathered():
    with pytest.raises(InputErrors) as caught:
        stocks({"a": {"like": "pvc_sch40 4 in"}, "b": {"like": "none"}})
    assert len(caught.value.faults) == 2


def test_a_source_without_standing_is_a_fault():
    row = dict(pipes.rows()[0])
    assert faults_of(row, "here") == []
    for column in (name for name in COLUMNS if name.endswith("_source")):
        assert "does not begin with a basis" in str(faults_of(row | {column: "somebody said so"}, "here")[0])
    assert "basis is 'guess'" in str(faults_of(row | {"basis": "guess"}, "here")[0])


# ------------------------------------------------------------------ the command


def test_command_lists_the_book(capsys):
    assert main(["pipes"]) == 0
    out = capsys.readouterr().out
    assert out.count("\n") > len(stocks())
    assert "pvc_sdr35       4 in    4.215  3.975" in out
    assert main(["pipes", "--json"]) == 0
    read = json.loads(capsys.readouterr().out)
    lengths = [one[key] for one in read["pipes"] for key in ("od_m", "id_m", "wall_m", "bell_od_m")]
    assert lengths == [round(length, 6) for length in lengths]  # to a micrometre, as books of pipes do not give them
    strengths = [
        one[key] for one in read["pipes"] for key in ("weight_n_per_m", "bending_short_nm2", "bending_long_nm2")
    ]
    assert strengths == [round(strength, 4) for strength in strengths]
    assert len(read["pipes"]) == len(stocks())
    four = next(p for p in read["pipes"] if (p["kind"], p["nominal"]) == ("pvc_sch40", "4 in"))
    assert four["od_m"] == pytest.approx(0.1143)
    assert four["sources"]["weight"].startswith("read: ")


def test_command_by_kind_and_with_sources(capsys):
    assert main(["pipes", "--kind", "pe_corr_dual", "--sources"]) == 0
    out = capsys.readouterr().out
    assert "pvc" not in out
    assert "  bending: derived: the liner alone" in out
    assert main(["pipes", "--kind", "clay"]) == 2
    assert "Choose from pvc_sch40, pvc_sdr35" in capsys.readouterr().err
    assert pipes_as_text(stocks(), "pvc_thin").count("pvc_thin") == 4
    assert json.loads(pipes_as_json(stocks(), "pvc_thin"))["pipes"][0]["kind"] == "pvc_thin"
