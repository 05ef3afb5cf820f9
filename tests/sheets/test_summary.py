"""The verdict on one screen: margins in feet and inches, the worst first, nothing that steers a terminal."""

from __future__ import annotations

from dataclasses import replace

from siteplan.sheets.summary import HEIGHT, WIDTH, summary
from siteplan.sheets.wording import worst_first


def test_the_verdict_fits_a_screen_and_tells_margins(yard):
    told = summary(*yard)
    lines = told.splitlines()
    assert len(lines) <= HEIGHT
    assert max(map(len, lines)) <= WIDTH
    assert "2 of 3 sources drained by 2 lines" in told
    assert "2 fails, 4 flags, 4 passed" in told
    assert "L1  Front right to Curb: 70.7 ft at 1.15 to 1.50 %, invert 98.04 ft down to 97.18 ft" in told.replace(
        "L1 F", "L1  F"
    )
    assert "0.42 ft (0'-5\") of fall to spare" in told
    assert "Tightest: cover at the start" in told
    assert "0.10 ft (0'-1 1/8\")" in told


def test_a_source_not_drained_says_why_and_what_would_flip_it(yard):
    told = " ".join(summary(*yard).split())
    assert "NOT DRAINED {{ 7*7 }}" in told
    assert (
        "Curb: short of fall at the driveway (0.39 ft (0'-4 3/4\") short) To make it work: 0.12 m less cover at the start"
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
    assert told.splitlines()[0].startswith("[2J ]0;owned lot FAKE : 2 of 3")


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
    assert len(lines) <= HEIGHT
    assert max(map(len, lines)) <= WIDTH
    assert any(line.startswith("and 16 more lines") for line in lines)
    assert lines[-1].startswith("and ")


def test_nothing_can_drain(hopeless):
    told = " ".join(summary(*hopeless).split())
    assert "0 of 3 sources drained: no line can be laid" in told
    assert told.count("NOT DRAINED") == 3
