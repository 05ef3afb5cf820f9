"""The water of a line, and of a plan, in; what the page says of it in words, tables and one still chart, out."""

from __future__ import annotations

from siteplan import units
from siteplan.sheets.drawing import BLUE, RED, SKY
from siteplan.sheets.markup import Markup, tag, whole
from siteplan.sheets.wording import flow_or_unknown, held_to, names, one_line, volume_or_unknown
from siteplan.values.flows_worked import LineWater, RunFlow, StormTest, Water
from siteplan.values.whole_plan import Plan

_WIDTH, _HEIGHT = 360, 150
_LEFT, _RIGHT, _TOP, _FOOT = 66, 8, 22, 22
_MINUTE = 60.0
_READ = (
    "Allows: by the basis in force. Use: flow over what it allows. Fill: depth of the water over the bore. "
    "Size: the smallest "
    "size that fits and never shrinks downstream."
)


def water_of_line(plan: Plan, line: str) -> LineWater | None:
    """The water of one line.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : str
        Id of the line.

    Returns
    -------
    LineWater or None
        None for a plan without water.
    """
    return next((one for one in plan.water.lines if one.line == line), None) if plan.water is not None else None


def tightest_run(water: LineWater) -> RunFlow | None:
    """The run whose flow comes nearest to its capacity.

    Parameters
    ----------
    water : LineWater
        The water of a line.

    Returns
    -------
    RunFlow or None
        None where no share is known.
    """
    known = [run for run in water.runs if run.share is not None]
    return max(known, key=lambda run: (run.share or 0.0, -run.station_from)) if known else None


def water_line(plan: Plan, line: str) -> str:
    """Flow, capacity and share of a line in one sentence.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : str
        Id of the line.

    Returns
    -------
    str
        Empty for a plan without water.
    """
    water, unit = water_of_line(plan, line), plan.length_unit
    if water is None:
        return ""
    laid = next(one for one in plan.lines if one.id == line)
    lies = laid.pipe
    if water.flow is None:
        return f"Flow not known, {units.size_text(lies.nominal, lies.od, unit)} not checked for size"
    tight = tightest_run(water)
    if tight is not None:
        lies = laid.pipe_at(tight.station_from)  # a smaller pipe may go through the curb
    pipe = units.size_text(lies.nominal, lies.od, unit)
    if tight is None:
        return f"{flow_or_unknown(water.flow, unit)} in {pipe}; its capacity has no figure"
    weak = (
        ""
        if water.weakest is None or water.weakest.kind == "run"
        else (
            f"; weakest link {water.weakest.kind} {one_line(water.weakest.name)}, "
            f"{flow_or_unknown(water.weakest.capacity, unit)}"
        )
    )
    return (
        f"{flow_or_unknown(tight.flow, unit)} of {flow_or_unknown(tight.design, unit)} in {pipe} "
        f"({100 * (tight.share or 0.0):.0f} %){weak}"
    )


def water_panel(plan: Plan, line: str) -> Markup:
    """What the page says of a line's water.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : str
        Id of the line.

    Returns
    -------
    Markup
        Empty for a plan without water.
    """
    water, unit, level = water_of_line(plan, line), plan.length_unit, plan.elevation_unit
    if water is None or plan.water is None:
        return Markup("")
    told = [tag("li", whole(water_line(plan, line)))]
    if water.rim_spare is not None:
        above = "below" if water.rim_spare >= 0 else "ABOVE"
        text = (
            f"At the design flow water stands {units.drop_text(abs(water.rim_spare), unit)} {above} where it "
            "would come out at the start"
        )
        if water.full_length > 0:
            text += f"; {units.length_text(water.full_length, unit, 1)} of the line runs full"
        told.append(tag("li", whole(text)))
    if water.standing > 0:
        told.append(
            tag("li", whole(f"{units.length_text(water.standing, unit, 1)} of it stands in water between rains"))
        )
    told += [
        tag("li", whole(_sentence(one_line(one.statement).removeprefix(f"{line}: "))))
        for one in plan.water.blocked
        if one.line == line
    ]
    ends = next((one.end for one in plan.lines if one.id == line), "")
    told += [tag("li", whole(_sentence(one_line(path.statement)))) for path in plan.water.paths if path.outlet == ends]
    return tag(
        "details",
        tag("summary", "Water"),
        tag("ul", *told, class_="plain"),
        tag("p", _READ, class_="note"),
        _runs(plan.water, water, unit),
        _links(water, unit, level),
        class_="water",
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _table(heads: list[str], rows: list[list[str]], words: int) -> Markup:
    """A table whose last `words` columns are text."""
    body = [
        tag("tr", *[tag("td", cell, class_="number" if k < len(row) - words else None) for k, cell in enumerate(row)])
        for row in rows
    ]
    head = tag("thead", tag("tr", *[tag("th", one, scope="col") for one in heads]))
    return tag(
        "div", tag("table", head, tag("tbody", *body)), class_="scroll", tabindex="0", role="group", aria_label="Table"
    )


def _runs(everything: Water, water: LineWater, unit: str) -> Markup:
    rows = [
        [
            f"{units.station_text(run.station_from, unit)} to {units.station_text(run.station_to, unit)}",
            units.grade_text(run.grade),
            flow_or_unknown(run.flow, unit),
            flow_or_unknown(run.design, unit),
            flow_or_unknown(run.full, unit),
            "" if run.share is None else f"{100 * run.share:.0f} %",
            "" if run.depth is None else f"{100 * run.depth / run.bore:.0f} %",
            "" if run.velocity is None else f"{units.length_text(run.velocity, unit)}/s",
            run.smallest or "none known",
            held_to(everything, run),
        ]
        for run in water.runs
    ]
    heads = ["At", "Grade", "Flow", "Allows", "Full", "Use", "Fill", "Speed", "Size", "Held to"]
    return _table(heads, rows, 1)


def _links(water: LineWater, unit: str, level: str) -> Markup:
    rows = [
        [
            flow_or_unknown(link.flow, unit),
            "" if link.capacity is None else flow_or_unknown(link.capacity, unit),
            "" if link.tail_water is None else units.length_text(link.tail_water, level),
            f"{link.kind} {one_line(link.name)}".strip(),
            one_line(link.statement),
        ]
        for link in water.links
    ]
    return _table(["Flow", "Passes", "Holds water at", "What", "Why"], rows, 2) if rows else Markup("")


def storm_panel(plan: Plan) -> Markup:
    """The storm test: what happens in it, with a still chart of rain, outflow and overflow.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Markup
        Empty when no storm was run.
    """
    storm = plan.water.storm if plan.water is not None else None
    if storm is None:
        return Markup("")
    unit, called = plan.length_unit, names(plan)
    inflow, out, over = (
        volume_or_unknown(volume, unit) for volume in (storm.inflow, storm.outflow, storm.overflow + storm.flooded)
    )
    said = (
        f"{_sentence(one_line(storm.source))}: {inflow} comes, {out} leaves by the outlets, {over} comes out on "
        "the way."
    )
    rows = [
        [
            flow_or_unknown(one.peak_inflow, unit),
            units.length_text(one.peak_level, plan.elevation_unit),
            units.length_text(one.rim, plan.elevation_unit),
            volume_or_unknown(one.overflow + one.flooded, unit),
            str(one.starts) if one.starts else "",
            called.get(one.source, one.source),
        ]
        for one in storm.sources
    ]
    heads = ["Most that comes", "Highest water", "Rim", "Comes out", "Pump starts", "Source"]
    peaks = "; ".join(
        f"{line} {flow_or_unknown(flow, unit)} at {at / _MINUTE:.0f} min" for line, flow, at in storm.peaks
    )
    return tag(
        "section",
        tag("h3", "Storm test", class_="chapter"),
        tag("p", whole(said)),
        storm_chart(storm, unit),
        _table(heads, rows, 1),
        tag("p", f"Greatest flow of each line: {peaks}.", class_="note"),
    )


def storm_chart(storm: StormTest, unit: str) -> Markup:
    """Rain from the top, outflow and overflow from the foot, against minutes. It does not move.

    Parameters
    ----------
    storm : StormTest
        The storm.
    unit : str
        The site's length unit.

    Returns
    -------
    Markup
        One svg.
    """
    most = max([out for _, _, _, out, _ in storm.steps] + [over for *_, over in storm.steps] + [1e-9])
    hardest = max([rain for _, _, rain, _, _ in storm.steps] + [1e-12])
    wide, high = _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _FOOT

    def x(time: float) -> float:
        return _LEFT + wide * time / storm.duration

    def y(flow: float) -> float:
        return _HEIGHT - _FOOT - high * 0.66 * flow / most

    bars = [
        tag("rect", x=x(start), y=_TOP, width=max(x(end) - x(start), 0.1), height=high * 0.3 * rain / hardest, fill=SKY)
        for start, end, rain in _blocks(storm)
        if rain > 0
    ]
    drawn = [
        *bars,
        tag(
            "path",
            d=_stairs([(x(s), x(e), y(out)) for s, e, _, out, _ in _thinned(storm)]),
            fill="none",
            stroke=BLUE,
            stroke_width=2,
        ),
        tag(
            "path",
            d=_stairs([(x(s), x(e), y(over)) for s, e, _, _, over in _thinned(storm)]),
            fill="none",
            stroke=RED,
            stroke_width=1.6,
            stroke_dasharray="5 3",
        ),
        tag("line", x1=_LEFT, y1=_HEIGHT - _FOOT, x2=_WIDTH - _RIGHT, y2=_HEIGHT - _FOOT, stroke="#2b2b2b"),
        tag("text", f"rain, at most {units.rain_text(hardest, unit)}", x=_LEFT, y=_TOP - 8),
        tag("text", flow_or_unknown(most, unit), x=_LEFT - 4, y=y(most) + 4, text_anchor="end", font_size=9),
        tag("text", "0", x=_LEFT - 4, y=_HEIGHT - _FOOT + 3, text_anchor="end"),
        tag("text", "0 min", x=_LEFT, y=_HEIGHT - 6),
        tag("text", f"{storm.duration / _MINUTE:.0f} min", x=_WIDTH - _RIGHT, y=_HEIGHT - 6, text_anchor="end"),
    ]
    title = "Rain, water leaving by the outlets, and water coming out on the way, against minutes"
    key = tag(
        "p", "Bars from the top: rain. Full line: leaves by the outlets. Dashed: comes out on the way.", class_="note"
    )
    svg = tag(
        "svg", tag("title", title), *drawn, viewbox=f"0 0 {_WIDTH} {_HEIGHT}", class_="storm", role="img", font_size=11
    )
    return tag("figure", svg, key)


def _blocks(storm: StormTest) -> list[tuple[float, float, float]]:
    """Steps of equal rain as one."""
    blocks: list[tuple[float, float, float]] = []
    for start, end, rain, _, _ in storm.steps:
        if blocks and blocks[-1][2] == rain:
            blocks[-1] = (blocks[-1][0], end, rain)
        else:
            blocks.append((start, end, rain))
    return blocks


def _thinned(storm: StormTest) -> list[tuple[float, float, float, float, float]]:
    """Steps of equal outflow and overflow as one."""
    kept: list[tuple[float, float, float, float, float]] = []
    for step in storm.steps:
        if kept and kept[-1][3:] == step[3:]:
            kept[-1] = (kept[-1][0], step[1], step[2], step[3], step[4])
        else:
            kept.append(step)
    return kept


def _stairs(steps: list[tuple[float, float, float]]) -> str:
    parts = []
    for number, (start, end, height) in enumerate(steps):
        parts.append(f"{'M' if number == 0 else 'L'}{start:.1f} {height:.1f}L{end:.1f} {height:.1f}")
    return "".join(parts)
