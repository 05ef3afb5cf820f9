"""Rule profiles: laid over the defaults, under the site; two that contradict one another; bad ones in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from siteplan.books.profiles import read_profile, rules_in_force
from siteplan.errors import InputError, InputErrors
from siteplan.survey.settings import read_settings

SAMPLES = Path(__file__).parents[2] / "sample_sites" / "rules"
RULE = 'id = "min-cover"\nvalue = 14\nunit = "in"\nsource = "s"\ndate = "2020"\nstatus = "local"\n'
HEAD = '[jurisdiction]\nname = "Here"\n'


def sample(name):
    return read_profile((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")


def test_two_samples_contradict_one_another():
    one, other = (rules_in_force({}, "site.toml", sample(name)) for name in ("fernhollow", "stonebridge"))
    assert one["min-grade"].limit == pytest.approx(0.02)
    assert other["min-grade"].limit == pytest.approx(0.005)
    assert one["min-cover"].limit < other["min-cover"].limit
    assert one["outlet-lot-line"].limit > other["outlet-lot-line"].limit
    assert other["clear-of-trees"].limit is None
    assert other["clear-of-trees"].rule.authority == "unknown"


def test_source_date_and_status_go_with_the_limit():
    entry = rules_in_force({}, "site.toml", sample("fernhollow"))["cleanout-spacing"]
    assert "Plumbing code as adopted, amendment 7" in entry.source
    assert (entry.rule.authority, entry.rule.dated) == ("code", "2022-01")


def test_the_sites_own_rule_lies_over_the_profile():
    book = rules_in_force({"min_cover_in": 14}, "site.toml", sample("stonebridge"))
    assert book["min-cover"].limit == pytest.approx(14 * 0.0254)
    assert book["min-cover"].replaced == "24 in of Borough of Stonebridge (invented)"
    assert book["min-cover"].source == "site.toml [rules]"
    assert book["max-depth"].source == rules_in_force({})["max-depth"].source


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[jurisdiction", "is no TOML"),
        ("[[rule]]\n" + RULE, "Say whose rules these are"),
        (HEAD + "[[rule]]\n" + RULE.replace("min-cover", "min-covr"), "Did you mean min-cover?"),
        (HEAD + "[[rule]]\n" + RULE.replace('"in"', '"percent"'), "Write one of in, ft"),
        (HEAD + "[[rule]]\n" + RULE.replace('source = "s"\n', ""), "source: is missing"),
        (HEAD + "[[rule]]\n" + RULE.replace('"local"', '"law"'), "Write code, local, practice, unknown"),
        (HEAD + "[[rule]]\n" + RULE + "[[rule]]\n" + RULE, "stands twice"),
        (HEAD + "[[rule]]\n" + RULE.replace("14", "-1"), "is -1"),
        (HEAD + "[[rule]]\n" + RULE.replace("14", '"unknown"'), "cannot be unknown"),
        (HEAD + "[[rule]]\n" + RULE + "colour = 1\n", "colour: is not known here"),
    ],
)
def test_a_bad_profile_is_said_in_one_line(text, said):
    with pytest.raises((InputError, InputErrors)) as caught:
        read_profile(text, "here.toml")
    assert said in str(caught.value)
    assert "here.toml" in str(caught.value)


def test_more_rules_than_anybody_has_are_refused_before_they_are_read():
    with pytest.raises(InputError, match=r"here.toml.*holds 501 rules"):
        read_profile(HEAD + "[[rule]]\n" * 501, "here.toml")
    with pytest.raises((InputError, InputErrors)) as caught:
        read_profile(HEAD + "[[rule]]\n" * 500, "here.toml")
    assert "holds 500 rules" not in str(caught.value)


def test_a_site_names_its_profile_and_digests_it(swale_drive):
    from siteplan.survey.folder import read_site

    (swale_drive / "fernhollow.toml").write_bytes((SAMPLES / "fernhollow.toml").read_bytes())
    path = swale_drive / "site.toml"
    path.write_text('rule_profile = "fernhollow.toml"\n' + path.read_text())
    site = read_site(swale_drive)
    assert site.rules["min-grade"].limit == pytest.approx(0.02)
    assert "fernhollow.toml" in {one.file for one in site.inputs}
    assert any("Fernhollow Township" in text for text in site.assumptions)


@pytest.mark.parametrize("name", ['"../fernhollow.toml"', '"none.toml"', "3"])
def test_a_profile_outside_the_folder_is_refused(swale_drive, name):
    path = swale_drive / "site.toml"
    path.write_text(f"rule_profile = {name}\n" + path.read_text())
    with pytest.raises((InputError, InputErrors), match="rule_profile"):
        read_settings(swale_drive)
