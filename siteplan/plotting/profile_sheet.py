"""A line in; its profile on paper out.

Lengths at the plan's scale, heights at a larger one, both written, stations and inverts under it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from siteplan import units
from siteplan.errors import InputError
from siteplan.plotting.fonts import text_width, wrapped
from siteplan.plotting.gathered import Gathered
from siteplan.plotting.graded import run_texts
from siteplan.plotting.ground_lines import GroundLines
from siteplan.plotting.looks_of import DOUBT, GROUND, HAND_DIG, LEAST_COVER, PIPE_EDGE, SLEEVE, WATER
from siteplan.plotting.paper_sizes import Box, Paper, scale_words
from siteplan.plotting.placing import Label, place_labels
from siteplan.plotting.profile_marks import ProfiledLine, ProfileView, profile_marks
from siteplan.plotting.shapes import Lettering, Mark, Page, Pen, Stroke, rectangle, straight
from siteplan.plotting.side_column import scale_bar
from siteplan.plotting.symbols import ring
from siteplan.plotting.words_pages import words_pages
from siteplan.sheets.drawing import BLUE
from siteplan.sheets.graded_runs import GradedRun, graded_runs
from siteplan.sheets.schedule import PrintedRow, printed_rows
from siteplan.sheets.states import line_state
from siteplan.sheets.wording import has_outlet_zone, names, way
from siteplan.values.lines import Line, Row
from siteplan.values.whole_plan import Plan

_HEAD_MM = 17.0  # over all: scales, key
_TITLE_MM = 8.5  # over each drawing: which line
_LABELS_MM, _NARROWEST_MM = 34.0, 46.0  # beside a line for words; the narrowest drawing
_LEFT_MM, _RIGHT_MM = 17.0, 9.0
_BANDS = (("station", 14.0), ("ground", 13.0), ("invert", 13.0), ("cut", 11.0))  # height of each [mm]
_RUNS_MM = 9.0
_FIG = 2.1  # size of figures [mm]
_PITCH = 2.9  # from one figure of a band to the next, at least [mm]
_STEEP_FT, _STEEP_M = (12, 24, 48, 60, 120, 240, 360, 480), (10, 20, 25, 50, 100, 200, 250, 500)
_MOST_TIMES = 10.0  # heights are drawn no more times larger than lengths
_RIM = 0.15  # m under and over what is drawn
_GRID = Pen(color="#b5b5b5", width=0.1)


def profiled_line(
    plan: Plan, line: Line, ground: GroundLines | None, limits: Mapping[str, float | None]
) -> ProfiledLine:
    """A line with its ground, water and least cover.

    Parameters
    ----------
    plan : Plan
        As stored.
    line : Line
        One of its lines.
    ground : GroundLines, optional
        Ground between the stakes; straight between them where absent.
    limits : mapping of str to float or None
        Of min-cover, outlet-zone and start-zone as the plan lists them [m].

    Returns
    -------
    ProfiledLine
        For the drawing.
    """
    rows = tuple((row.station, row.ground) for row in line.rows)
    found = None if plan.water is None else next((one for one in plan.water.lines if one.line == line.id), None)
    return ProfiledLine(
        plan=plan,
        line=line,
        ground=ground.along.get(line.id, rows) if ground is not None else rows,
        doubt=tuple((row.station, row.ground_doubt or 0.0) for row in line.rows),
        water=found.levels if found is not None else (),
        least_cover=limits.get("min-cover"),
        cover_from=(limits.get("outlet-zone") or 0.0) if has_outlet_zone(plan, line) else 0.0,
        cover_to=line.length - (limits.get("start-zone") or 0.0),
    )


def _levels(of: ProfiledLine, first: float, last: float) -> tuple[float, float]:
    """Lowest and highest thing between two stations [m]."""
    line = of.line
    stations = [first, *(v.station for v in line.vertices if first < v.station < last), last]
    low = [line.at(s)[2] - line.pipe_at(s).below for s in stations]
    high = [line.at(s)[2] + line.pipe_at(s).rise for s in stations]
    grounds = [z for s, z in of.ground if first - 1 <= s <= last + 1 and math.isfinite(z)]
    for one in line.crossings:
        if (
            one.kind == "utility"
            and one.depth is not None
            and first <= one.station_from <= last
            and math.isfinite(one.cover_min)
        ):
            pipe = line.pipe_at(one.station_from)
            low.append(line.at(one.station_from)[2] + pipe.rise + one.cover_min - one.depth - 0.15)
    high += [level for s, level in of.water if first <= s <= last]
    return min([*low, *grounds]), max([*high, *grounds])


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfilePanel:
    """A line, or a part of one, as it stands on a sheet; `wide` on paper [mm]."""

    of: ProfiledLine
    first: float
    last: float
    part: tuple[int, int]
    wide: float


def line_steepness(of: ProfiledLine, paper: Paper, ratio: int) -> int:
    """The largest usual scale at which the heights of a line fit.

    Parameters
    ----------
    of : ProfiledLine
        The line.
    paper : Paper
        To draw on.
    ratio : int
        The plan's scale, 1 to so many.

    Returns
    -------
    int
        1 to so many; heights are drawn from as large as to ten times as large as lengths.

    Raises
    ------
    InputError
        Where they fit at none.
    """
    room = _room(paper.inside)
    span = (
        max(high - low for low, high in (_levels(of, first, last) for first, last in _parts(of, room, ratio)))
        + 2 * _RIM
    )
    choices = _STEEP_M if of.plan.length_unit == "m" else _STEEP_FT
    for one in (*(one for one in choices if one < ratio <= one * _MOST_TIMES), ratio):
        if span / (one * units.MILLIMETRE) <= room.high:
            return one
    fall = units.length_text(span, of.plan.length_unit, 1)
    raise InputError(
        f"the profile of {of.line.id}",
        f"is {fall} high, which does not fit on {paper.title} at {scale_words(ratio, of.plan.length_unit)}",
        "Take a larger paper or a smaller scale.",
    )


def _room(box: Box) -> Box:
    """What a panel draws in, of all that it takes."""
    foot = sum(high for _, high in _BANDS) + _RUNS_MM
    return Box(
        left=box.left + _LEFT_MM,
        right=box.right - _RIGHT_MM,
        bottom=box.bottom + foot,
        top=box.top - _HEAD_MM - _TITLE_MM,
    )


def _parts(of: ProfiledLine, room: Box, ratio: int) -> list[tuple[float, float]]:
    """A line cut into parts that fit across [m]."""
    count = max(1, math.ceil((of.line.length - 1e-6) / (room.wide * ratio * units.MILLIMETRE)))
    return [(k * of.line.length / count, (k + 1) * of.line.length / count) for k in range(count)]


def profile_pages(held: Sequence[ProfiledLine], paper: Paper, ratio: int, steep: int) -> Sequence[Page]:
    """The sheets of the profiles, short lines side by side.

    Parameters
    ----------
    held : sequence of ProfiledLine
        The lines.
    paper : Paper
        To draw on.
    ratio, steep : int
        The scales of lengths and of heights, 1 to so many.

    Returns
    -------
    sequence of Page
        In the order of the lines.
    """
    inside = paper.inside
    panels = []
    for of in held:
        spans = _parts(of, _room(inside), ratio)
        for number, (first, last) in enumerate(spans):
            drawn = (last - first) / (ratio * units.MILLIMETRE)
            wide = min(inside.wide, _LEFT_MM + _RIGHT_MM + max(drawn + _LABELS_MM, _NARROWEST_MM))
            panels.append(ProfilePanel(of=of, first=first, last=last, part=(number, len(spans)), wide=wide))
    rows: list[list[ProfilePanel]] = []
    for panel in panels:
        if rows and sum(one.wide for one in rows[-1]) + panel.wide <= inside.wide:
            rows[-1].append(panel)
        else:
            rows.append([panel])
    pages = []
    missed: list[tuple[str, list[str]]] = []
    for row in rows:
        names_of = [
            one.of.line.id if one.part[1] == 1 else f"{one.of.line.id} part {one.part[0] + 1} of {one.part[1]}"
            for one in row
        ]
        title = f"Profile{'s' if len(row) > 1 else ''} {', '.join(names_of)}"
        shapes, words = _sheet(row, inside, ratio, steep)
        pages.append(Page(paper=paper, title=title, shapes=shapes, scale=_both(ratio, steep, row[0].of.plan)))
        missed.extend(words)
    return [*pages, *words_pages(paper, "Profiles, notes", missed)]


def _sheet(
    row: Sequence[ProfilePanel], inside: Box, ratio: int, steep: int
) -> tuple[tuple[Mark, ...], list[tuple[str, list[str]]]]:
    """One sheet: its panels from the left, the last one as wide as is left; the key over all.

    And words without a place, by line.
    """
    shapes: list[Mark] = []
    key: dict[str, str] = {}
    missed: list[tuple[str, list[str]]] = []
    left = inside.left
    for panel in row:
        right = inside.right if panel is row[-1] else left + panel.wide
        made, explained, words = _panel(panel, replace(inside, left=left, right=right), ratio, steep)
        shapes += made
        key |= explained
        if words:
            missed.append((panel.of.line.id, words))
        left = right
    return (*shapes, *_head(row[0].of.plan, inside, ratio, steep, key)), missed


def _panel(panel: ProfilePanel, box: Box, ratio: int, steep: int) -> tuple[list[Mark], dict[str, str], list[str]]:
    of, out = panel.of, Gathered()
    wide = _room(box)
    low, high = _levels(of, panel.first, panel.last)
    tick = _height_tick(of.plan, steep)
    spare = max(0.0, wide.high * steep * units.MILLIMETRE - (high - low) - 2 * _RIM)
    base = math.floor((low - _RIM - 0.45 * spare) / tick) * tick
    if base + wide.high * steep * units.MILLIMETRE < high:
        base = low - _RIM
    drawn = replace(wide, right=min(wide.right, wide.left + (panel.last - panel.first) / (ratio * units.MILLIMETRE)))
    view = ProfileView(room=drawn, ratio=ratio, steep=steep, first=panel.first, low=base)
    shapes = [*_grid(of, view, wide), *_bands(of, view, box, out)]
    profile_marks(of, view, out)
    for run in graded_runs(of.line):
        _run_in_band(run, of.plan, view, out)
    shapes += _match(view, panel.part, of.line)
    # words may stand beside the line's upper end, where the sheet has room
    free = Box(left=wide.left + 0.5, right=wide.right - 0.5, bottom=wide.bottom + 0.5, top=wide.top - 0.5)
    put = place_labels(out.ordered(), free, keep_off=out.keep_off, pipes=out.pipes, thin=out.thin)
    missed = [" / ".join(label.lines) for label in put.left if label.needed]
    return [*out.under, *shapes, *out.over, *put.shapes, *_panel_title(of, box)], out.key, missed


def _panel_title(of: ProfiledLine, box: Box) -> list[Mark]:
    """Which line, and how it stands."""
    room = box.wide - 3.0
    texts = (
        (f"{of.line.id}  {way(of.line, names(of.plan))}", 2.8, True),
        (line_state(of.plan, of.line).text, 2.1, False),
    )
    whole = 1.0
    while True:
        set_in = [
            (line, size * whole, bold)
            for text, size, bold in texts
            for line in wrapped(text, size * whole, room, bold=bold)
        ]
        if sum(size * 1.25 for _, size, _ in set_in) <= _TITLE_MM - 0.6 or whole < 0.35:
            break
        whole *= 0.93
    shapes: list[Mark] = []
    y = box.top - _HEAD_MM
    for line, size, bold in set_in:
        y -= size * 1.25
        shapes.append(Lettering(layer="head", text=line, x=box.left, y=y + 0.25 * size, size=size, bold=bold))
    return shapes


def _both(ratio: int, steep: int, plan: Plan) -> str:
    unit = plan.length_unit
    return f"H {scale_words(ratio, unit)}, V {scale_words(steep, unit)}"


def _height_tick(plan: Plan, steep: int) -> float:
    """Elevations are ticked at even figures of the site's unit, no nearer than 8 mm [m]."""
    own = units.LENGTH[plan.elevation_unit]
    return own * next(
        one
        for one in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
        if one * own / (steep * units.MILLIMETRE) >= 8.0
    )


def _grid(of: ProfiledLine, view: ProfileView, wide: Box) -> list[Mark]:
    plan, room = of.plan, view.room
    shapes: list[Mark] = [rectangle("grid", wide, Pen(color="#777777", width=0.2))]
    tick, own = _height_tick(plan, view.steep), units.LENGTH[plan.elevation_unit]
    digits = max(0, -math.floor(math.log10(tick / own) + 1e-9))
    for count in range(
        math.ceil(view.low / tick - 1e-9),
        math.floor((view.low + room.high * view.steep * units.MILLIMETRE) / tick + 1e-9) + 1,
    ):
        y = view.y(count * tick)
        shapes.append(straight("grid", (wide.left, y), (wide.right, y), _GRID))
        words = f"{count * tick / own:.{digits}f}"
        shapes.append(Lettering(layer="elevations", text=words, x=wide.left - 1.2, y=y - 0.7, size=_FIG, anchor="end"))
        shapes.append(Lettering(layer="elevations", text=words, x=wide.right + 1.0, y=y - 0.7, size=1.9))
    step = station_tick(plan, view.ratio)
    for count in range(
        math.ceil(view.first / step - 1e-9), math.floor(min(view.last, of.line.length) / step + 1e-9) + 1
    ):
        x = view.x(count * step)
        shapes.append(straight("grid", (x, room.bottom), (x, room.top), _GRID))
    return shapes


def station_tick(plan: Plan, ratio: int) -> float:
    """How far apart the upright lines of the grid stand.

    Parameters
    ----------
    plan : Plan
        For its unit.
    ratio : int
        Scale of lengths.

    Returns
    -------
    float
        An even figure of the site's unit, no nearer than 9 mm on paper [m].
    """
    own = units.LENGTH[plan.length_unit]
    choices = (5.0, 10.0, 20.0, 50.0) if plan.length_unit == "m" else (10.0, 25.0, 50.0, 100.0)
    return own * next((one for one in choices if one * own / (ratio * units.MILLIMETRE) >= 9.0), choices[-1])


def _bands(of: ProfiledLine, view: ProfileView, inside: Box, out: Gathered) -> list[Mark]:
    """Figures of the stakes, as the schedule prints them.

    Where they stand closer than type allows they are drawn apart, with a kink.
    """
    plan, line, room = of.plan, of.line, view.room
    printed = printed_rows(plan, line)
    held = [(row, told) for row, told in zip(line.rows, printed, strict=True) if view.shows(row.station)]
    right = inside.right - _RIGHT_MM
    shown = _as_many(held, line, right - room.left)
    spread = _apart([view.x(row.station) for row, _ in shown], room.left + 1.0, right - 1.0)
    shapes: list[Mark] = []
    top = room.bottom - _RUNS_MM
    level = units.UNIT_NAMES[plan.elevation_unit]
    length = units.UNIT_NAMES[plan.length_unit]
    for name, high in _BANDS:
        box = Box(left=inside.left, right=right, bottom=top - high, top=top)
        shapes.append(rectangle("bands", box, Pen(color="#777777", width=0.13)))
        unit = {"station": "", "cut": length}.get(name, level)
        shapes.append(
            Lettering(
                layer="bands", text=name, x=box.left + 1.0, y=(box.top + box.bottom) / 2 + 0.3, size=2.2, bold=True
            )
        )
        if unit:
            shapes.append(
                Lettering(layer="bands", text=unit, x=box.left + 1.0, y=(box.top + box.bottom) / 2 - 2.6, size=1.9)
            )
        for x, (_, told) in zip(spread, shown, strict=True):
            words = {"station": told.station, "ground": told.ground, "invert": told.invert, "cut": told.cut}[
                name
            ] or "?"
            shapes.append(Lettering(layer="bands", text=words, x=x + 0.75, y=box.bottom + 1.0, size=_FIG, angle=90.0))
        top -= high
    foot = room.bottom - _RUNS_MM
    for x, (row, _) in zip(spread, shown, strict=True):
        at = view.x(row.station)
        low = view.y(row.invert)
        shapes.append(straight("stakes", (at, room.bottom), (at, low), Pen(color="#777777", width=0.1)))
        shapes.append(
            Stroke(layer="stakes", points=((at, foot + 1.6), (x, foot)), pen=Pen(color="#777777", width=0.13))
        )
    out.key["stakes"] = "Stakes, as in the trench schedule"
    return shapes


def _as_many(held: Sequence[tuple[Row, PrintedRow]], line: Line, room: float) -> list[tuple[Row, PrintedRow]]:
    """All stakes, or where there is no room for all those at corners and every other one of the rest until they fit."""
    kept = list(held)
    corners = {round(v.station, 4) for v in line.vertices}
    while len(kept) * _PITCH > room - 2.0 and any(round(row.station, 4) not in corners for row, _ in kept):
        plain = [k for k, (row, _) in enumerate(kept) if round(row.station, 4) not in corners]
        drop = set(plain[::2])
        kept = [one for k, one in enumerate(kept) if k not in drop]
    return kept[: max(1, int((room - 2.0) / _PITCH))]


def _apart(wanted: Sequence[float], low: float, high: float) -> list[float]:
    """Places at least a pitch apart, as near to those wanted as one pass each way brings them."""
    found: list[float] = []
    for x in wanted:
        found.append(max(x, found[-1] + _PITCH if found else low))
    edge = high
    for k in range(len(found) - 1, -1, -1):
        found[k] = min(found[k], edge)
        edge = found[k] - _PITCH
    # a cluster pushed to the right comes halfway back where there is room
    for k in range(len(found)):
        floor = found[k - 1] + _PITCH if k else low
        found[k] = max(floor, min(found[k], (found[k] + wanted[k]) / 2))
    return found


def _run_in_band(run: GradedRun, plan: Plan, view: ProfileView, out: Gathered) -> None:
    """Size, material, length, slope under the run.

    Where it is too short for the words, beside the pipe with a leader.
    """
    left, right = max(view.x(run.station_from), view.room.left), min(view.x(run.station_to), view.room.right)
    if right - left < 0.05:
        return
    top, base = view.room.bottom, view.room.bottom - _RUNS_MM + 1.6
    pen = Pen(width=0.2)
    for x in (left, right):
        out.over.append(straight("runs", (x, top), (x, base), pen))
    lines = run_texts(run, plan.length_unit)
    if max(text_width(line, _FIG) for line in lines) <= right - left - 1.0:
        for k, words in enumerate(lines):
            out.over.append(
                Lettering(
                    layer="runs", text=words, x=(left + right) / 2, y=top - 2.6 - k * 2.9, size=_FIG, anchor="middle"
                )
            )
        return
    middle = (run.station_from + run.station_to) / 2
    if view.shows(middle):
        spot = (view.x(middle), view.y(run.line.at(middle)[2]))
        out.labels.append((7, Label(layer="runs", lines=lines, spot=spot, size=2.2, reach=90.0, color="#003f66")))


def _match(view: ProfileView, part: tuple[int, int], line: Line) -> list[Mark]:
    number, count = part
    shapes: list[Mark] = []
    pen = Pen(width=0.5, dash=(6.0, 2.0))
    for there, other, x, side in (
        (number > 0, number, view.room.left, 1.0),
        (number < count - 1, number + 2, view.room.right, -1.0),
    ):
        if there:
            shapes.append(straight("match_lines", (x, view.room.bottom), (x, view.room.top), pen))
            words = f"match line: {line.id} goes on on part {other}"
            shapes.append(
                Lettering(
                    layer="match_lines",
                    text=words,
                    x=x + (2.6 if side > 0 else -0.8),
                    y=view.room.bottom + 3.0,
                    size=2.2,
                    angle=90.0,
                    bold=True,
                )
            )
    return shapes


def _head(plan: Plan, inside: Box, ratio: int, steep: int, key: Mapping[str, str]) -> list[Mark]:
    """Both scales and how much taller heights are drawn, a true bar, the key."""
    bar = 62.0
    told = (
        f"{_both(ratio, steep, plan)}: heights drawn {ratio / steep:.3g} times lengths. Water runs to the left, "
        "stations up from the outlet."
    )
    shapes: list[Mark] = []
    y = inside.top - 2.4
    for words in wrapped(told, 2.3, inside.wide - bar - 4.0):
        shapes.append(Lettering(layer="head", text=words, x=inside.left, y=y, size=2.3))
        y -= 2.9
    shapes += scale_bar(inside.right - bar, inside.top - 5.0, bar - 12.0, ratio, plan.length_unit)
    x, y = inside.left, inside.top - 9.0
    for look, words in sorted(key.items(), key=lambda pair: pair[0] == "stakes"):
        wide = 9.0 + text_width(words, 2.0) + 4.0
        if x + wide > inside.right:
            x, y = inside.left, y - 3.4
        shapes += _sample(look, x, y + 0.7)
        shapes.append(Lettering(layer="key", text=words, x=x + 8.5, y=y, size=2.0))
        x += wide
    return shapes


def _sample(look: str, x: float, y: float) -> list[Mark]:
    pens = {
        "ground": GROUND,
        "least_cover": LEAST_COVER,
        "water": WATER,
        "sleeve": SLEEVE,
        "hand_dig": HAND_DIG,
        "stakes": Pen(color="#777777", width=0.13),
    }
    if look in pens:
        return [straight("key", (x, y), (x + 7.5, y), pens[look])]
    if look == "doubt":
        return [rectangle("key", Box(left=x, right=x + 7.5, bottom=y - 1.0, top=y + 1.0), fill=DOUBT)]
    if look == "pipe":
        return [
            straight("key", (x, y - 0.7), (x + 7.5, y - 0.7), PIPE_EDGE),
            straight("key", (x, y + 0.7), (x + 7.5, y + 0.7), PIPE_EDGE),
        ]
    if look == "cleanout":
        return [rectangle("key", Box(left=x + 3.2, right=x + 4.2, bottom=y - 1.2, top=y + 1.2), Pen(width=0.25))]
    return [Stroke(layer="key", points=ring((x + 3.7, y), 1.1), pen=Pen(color=BLUE, width=0.3), closed=True)]
