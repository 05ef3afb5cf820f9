"""The verdict in a terminal.

Margins in feet and inches, the worst first, nothing cut, nothing that steers a terminal.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from siteplan.sheets.choice_words import SAID_OF_SPARE, choose_text
from siteplan.sheets.choices_panel import choices_panel
from siteplan.sheets.summary import summary
from siteplan.sheets.terminal import WIDTH
from siteplan.sheets.wording import worst_first
from siteplan.values.other_layouts import Aim, Layout, LayoutEnd


def test_the_verdict_fits_eighty_columns_and_tells_margins(yard):
    told = summary(*yard)
    assert WIDTH == 80
    assert max(map(len, told.splitlines())) <= 80
    told = " ".join(told.split())
    # S1 runs in L1 alone; S2 comes down L2, which fails under the walk; nothing carries S3
    assert "3 sources: 1 sure to drain, 1 on a line that FAILS, 1 NOT DRAINED" in told
    assert "2 fails, 4 flags, 4 passed" in told
    assert (
        "L1 sure (falls: over 95 %): Front right to Curb: 70.7 ft at 1.15 to 1.50 %, invert 98.04 ft down to 97.18 ft"
        in told
    )
    assert "L2 FAILS (min-cover; falls: over 95 %): " in told
    assert "0.42 ft (0'-5\") of fall to spare" in told
    assert "Tightest: cover at the start" in told
    assert "0.10 ft (0'-1 1/8\")" in told


def test_a_source_not_drained_says_why_and_what_would_serve_it(yard):
    told = " ".join(summary(*yard).split())
    assert "NOT DRAINED {{ 7*7 }}" in told
    assert (
        "Curb: short of fall at the driveway Would serve it: 1. Heavy pipe with the outlet zone's cover over "
        "the last 20.0 ft before the outlet instead of 15.0 ft "
        "(rule outlet-zone). Laid out so: 141.1 ft of line, 0.07 ft (0'-0 3/4\") of fall to spare, deepest cut 2.62 ft."
        in told
    )


def test_fails_come_first_then_flags_by_how_far_past_the_limit(yard):
    plan, site = yard
    ranked = [(finding.status, finding.rule) for finding in worst_first(plan, site.rules)]
    assert ranked[:3] == [("fail", "served"), ("fail", "min-cover"), ("flag", "inside-lot")]
    assert ranked[5] == ("flag", "min-grade")
    assert [status for status, _ in ranked] == ["fail"] * 2 + ["flag"] * 4 + ["pass"] * 4
    short = replace(plan.findings[4], value=0.05, subject="L1")
    further = replace(plan, findings=(*plan.findings, short))
    assert [f.subject for f in worst_first(further, site.rules) if f.rule == "min-cover"] == ["L1", "L2: walk"]


def test_a_name_cannot_steer_the_terminal(yard):
    plan, site = yard
    evil = replace(
        plan,
        site_name="\x1b[2J\x1b]0;owned\x07lot\r\nFAKE\u202e",
        sources=(replace(plan.sources[0], name="a\x9bb\x00c"), *plan.sources[1:]),
    )
    told = summary(evil, site)
    assert all(mark.isprintable() or mark == "\n" for mark in told)
    assert told.splitlines()[0].startswith("[2J ]0;owned lot FAKE: 3 sources")


def test_no_word_of_a_finding_is_cut(yard):
    plan, site = yard
    end = "and the deciding word stands at the very end"
    long = replace(plan.findings[4], message=f"{'word ' * 120}{end}")
    told = summary(replace(plan, findings=(*plan.findings, *[long] * 30)), site)
    assert " ".join(told.split()).count(end) == 30
    assert "..." not in told


def test_a_hundred_findings_and_long_names_still_fit(yard):
    plan, site = yard
    many = replace(
        plan,
        site_name="x" * 500,
        lines=plan.lines * 10,
        sources=tuple(replace(plan.sources[2], id=f"S{n}", name="long name " * 30) for n in range(20)),
        findings=plan.findings * 20,
    )
    lines = summary(many, site).splitlines()
    assert max(map(len, lines)) <= 80
    assert sum(line.startswith("FAIL min-cover") for line in lines) == 20
    assert sum(line.startswith("FLAG") for line in lines) == 80


def test_nothing_can_drain(hopeless):
    told = " ".join(summary(*hopeless).split())
    assert "3 sources: 3 NOT DRAINED: no line can be laid" in told
    assert told.count("NOT DRAINED") == 4  # the head, and each source


def test_why_a_cheaper_layout_is_not_the_plan_is_said(yard):
    source = yard[0].sources[0]
    end = LayoutEnd(id="D9", name="Bank", x=0.0, y=0.0, found=True)
    taken = Layout(
        number=2,
        chosen=True,
        aim=Aim(what="cost"),
        cost=9.0,
        length=1.0,
        deepest_cut=None,
        over_ladder=0.0,
        over_protection=0.0,
        pavement=0.0,
        spare=0.1,
        chance=None,
        bellies=0,
        flags=0,
        fails=0,
        sure=(source.id,),
        ends=(),
        lines=(),
    )
    cheaper = replace(taken, number=1, chosen=False, cost=8.0, aim=Aim(what="depth"))
    for other, said in (
        (replace(cheaper, sure=()), f"Layout 1 costs less and leaves {source.name} in doubt, where this one is sure."),
        (replace(cheaper, fails=1), "Layout 1 costs less and fails more rules."),
        (replace(cheaper, ends=(end,)), "Layout 1 costs less and ends where no outlet was asked for (Bank)."),
        (cheaper, ""),
    ):
        plan = replace(yard[0], layouts=(other, taken))
        assert choose_text(plan) == " ".join(
            part
            for part in ("This plan is layout 2; siteplan plan --choose N takes another.", said, SAID_OF_SPARE)
            if part
        )
        asked = replace(plan, choices_asked=replace(plan.choices_asked, choose=2))
        assert "costs less" not in choose_text(asked)


@pytest.mark.parametrize(
    ("unit", "named", "length", "cut"),
    [("us-ft", "US survey ft", "137000.2", "9.90"), ("ft", "ft", "137000.5", "9.90"), ("m", "m", "41757.74", "3.018")],
)
def test_columns_of_the_layouts_stand_apart_and_the_unit_is_said_once(yard, unit, named, length, cut):
    # 137000.2 US survey feet of 1200/3937 m, by hand
    known = Layout(
        number=1,
        chosen=True,
        aim=Aim(what="cost"),
        cost=1234567.8,
        length=41757.744,
        deepest_cut=9.9 * 1200 / 3937,
        over_ladder=0.0,
        over_protection=0.0,
        pavement=148.6,
        spare=0.85,
        chance=0.999,
        bellies=0,
        flags=12,
        fails=0,
        sure=("S1",),
        ends=(),
        lines=(),
    )
    other = replace(known, number=2, chosen=False, deepest_cut=None, chance=None)
    plan = replace(yard[0], length_unit=unit, layouts=(known, other))
    lines = summary(plan, yard[1]).splitlines()
    at = next(k for k, line in enumerate(lines) if line.split()[:2] == ["cost", "length"])
    rows = [line.split("  ") for line in lines[at:] if line.lstrip().startswith(("1*", "2 "))]
    rows = [[cell.strip() for cell in row if cell.strip()] for row in rows][:2]
    assert [len(row) for row in rows] == [9, 9]
    assert rows[0][1:4] == ["1234567.8", length, cut]
    assert not any(named in cell.split() for row in rows for cell in row)
    assert sum(f"Lengths in {named}." in line for line in lines) == 1
    assert max(map(len, lines[at:])) <= 84
    page = choices_panel(plan)
    assert f"Length, {named}" in page
    assert f"{length} {named}" not in page.replace("\u00a0", " ")
