"""The book of soils: validated, ordered, and refusing what cannot be computed."""

from itertools import pairwise

import pytest

from siteplan import units as u
from siteplan.books.soils import entries, entry, read_entries, settlement, value_range
from siteplan.errors import InputError, InputErrors

HEAD = "group,id,title,low,likely,high,unit,source,basis,note\n"


def test_defaults_of_the_ground():
    likely = {
        name: value_range("line_modulus", name).likely / u.PSI for name in ("firm", "soft_clay", "wet_loose", "mud")
    }
    assert likely == pytest.approx({"firm": 2000, "soft_clay": 300, "wet_loose": 100, "mud": 20})
    assert value_range("unit_weight", "wet").likely == pytest.approx(120 * u.POUND_PER_CUBIC_FOOT)
    assert settlement("clean").likely == pytest.approx(0.1 * u.INCH)
    assert settlement("over_tamped", 0.5).likely == pytest.approx(0.01)


def test_stiffer_ground_is_stiffer_throughout():
    order = [value_range("line_modulus", name) for name in ("mud", "wet_loose", "soft_clay", "firm")]
    for softer, firmer in pairwise(order):
        assert softer.likely < firmer.likely
        assert softer.low <= softer.likely <= softer.high


def test_every_row_has_a_source():
    assert len({(row.group, row.id) for row in entries()}) == len(entries())
    assert all(row.source and row.basis in {"read", "derived", "memory"} for row in entries())


def test_what_is_not_there_or_not_to_be_computed():
    with pytest.raises(KeyError, match="no line_modulus 'lava'; known: firm, stone"):
        entry("line_modulus", "lava")
    with pytest.raises(ValueError, match="cannot be computed"):
        settlement("muck", 1.0)
    with pytest.raises(ValueError, match="below 0"):
        settlement("clean", -1.0)


@pytest.mark.parametrize(
    ("row", "text"),
    [
        ("line_modulus,a,t,1,2,3,stone,s,read,", "unit is 'stone'"),
        ("line_modulus,a,t,1,2,3,psi,,read,", "has no source with a basis"),
        ("line_modulus,a,t,1,2,3,psi,s,hearsay,", "has no source with a basis"),
        ("line_modulus,a,t,3,2,1,psi,s,read,", "do not rise from 0"),
        ("line_modulus,a,t,x,2,3,psi,s,read,", "do not rise from 0"),
        ("line_modulus,a,t,-1,2,3,psi,s,read,", "do not rise from 0"),
    ],
)
def test_rows_that_cannot_be_used(row, text):
    with pytest.raises(InputError, match=text) as caught:
        read_entries(HEAD + row, "soils.csv")
    assert str(caught.value).startswith("soils.csv, row 2 (line_modulus a): ")


def test_twice_the_same_row_and_gathering():
    good = "line_modulus,a,t,1,2,3,psi,s,read,"
    with pytest.raises(InputError, match="a second time"):
        read_entries(HEAD + good + "\n" + good, "soils.csv")
    with pytest.raises(InputErrors):
        read_entries(HEAD + "g,a,t,1,2,3,stone,s,read,\ng,b,t,1,2,3,stone,s,read,", "soils.csv")
