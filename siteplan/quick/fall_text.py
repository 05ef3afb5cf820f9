"""Options of `siteplan fall` as typed in, its screen or JSON out. What was not said is assumed aloud."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from siteplan import units
from siteplan.books import rules
from siteplan.books.pipes import Outline
from siteplan.books.practice import HIGHEST_CURB_FACE, PAIR_DOUBT, ROD_REACH, USUAL_CURB_FACE
from siteplan.errors import InputError, raise_gathered
from siteplan.quick.fall import (
    FALL_OUTLETS,
    SHOT_IS,
    QuickFall,
    default_limit,
    doubted_readings,
    fall_text,
    nothing_text,
    pipe_size,
    quick_fall,
)

_VERDICTS = {"go": "GO", "no-go": "NO-GO", "cannot-tell": "CANNOT TELL"}


class FallAsked(NamedTuple):
    """The question as it was understood, lengths in metres."""

    unit: str
    rods: bool
    start: float
    outlet: float
    outlet_kind: str
    pipe: Outline
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def answer_from_typed(typed: Mapping[str, Any]) -> tuple[FallAsked, QuickFall]:
    """Read the options of the command and answer them.

    Parameters
    ----------
    typed : mapping
        Option name with `_` to the text typed, or None: rod_start, rod_outlet, start_elev, outlet_elev, length,
        cover, outlet, pipe, size, grade, invert_allowance, doubt, curb_face, unit.

    Returns
    -------
    tuple
        The question as understood, and the answer.

    Raises
    ------
    InputError, InputErrors
        For what is missing, typed twice in two ways, or no length; one line each.
    """
    unit = typed["unit"] or "ft"
    kind = typed["outlet"] or "curb"
    faults: list[InputError] = []
    if unit not in units.SITE_UNITS:
        faults.append(InputError("--unit", f"is {unit!r}", "Give ft, us-ft or m."))
        raise_gathered(faults)
    if kind not in FALL_OUTLETS:
        faults.append(InputError("--outlet", f"is {kind!r}", f"Give one of {', '.join(FALL_OUTLETS)}."))
    pair = _pair(typed, faults)
    longest = {"rod_start": ROD_REACH, "rod_outlet": ROD_REACH}
    read: dict[str, float] = {}
    for name in (*pair, "length", "cover", "invert_allowance", "doubt", "curb_face"):
        if typed[name] is None:
            continue
        option = _option(name)
        try:
            value = units.read_length(typed[name], unit)
        except ValueError as error:
            faults.append(
                InputError(option, str(error).partition(";")[0], "Type 5.34, 5'-4 1/8\", 64 1/8 in or 1.63m.")
            )
            continue
        read[name] = value
        if name in longest and not 0 <= value <= longest[name]:
            faults.append(
                InputError(
                    option,
                    f"reads {typed[name]}, which is {units.length_text(value, unit)}; no rod is read there",
                    "Type the reading with its unit, such as 64.25in or 1.63m.",
                )
            )
        elif name.endswith("_elev") and round(value / units.LENGTH[unit], 2) == -9999:
            faults.append(
                InputError(
                    option,
                    "is -9999, a survey's mark for an unknown elevation",
                    "Shoot the point, or read its height off the rod.",
                )
            )
        elif name == "length" and value <= 0:
            faults.append(InputError(option, f"is {typed[name]}", "Give the length along the pipe, above 0."))
        elif name == "curb_face" and not 0 < value <= HIGHEST_CURB_FACE:
            most = units.length_text(HIGHEST_CURB_FACE, unit)
            faults.append(
                InputError(option, f"is {typed[name]}", f"Give gutter flow line to top of curb, up to {most}.")
            )
        elif name in {"cover", "invert_allowance", "doubt"} and value < 0:
            faults.append(InputError(option, f"is {typed[name]}, below 0", "Give 0 or more."))
    if typed["length"] is None:
        faults.append(InputError("--length", "is missing", "Give the length along the pipe, such as --length 84."))
    if "curb_face" in read and kind != "curb":
        faults.append(InputError("--curb-face", f"does not go with --outlet {kind}", "Leave it out."))
    grade = _grade(typed["grade"], faults)
    size = None
    try:
        size = pipe_size(typed["pipe"], typed["size"])
    except InputError as fault:
        faults.append(fault)
    raise_gathered(faults)
    assert size is not None
    start, outlet = read[pair[0]], read[pair[1]]
    rods = pair[0] == "rod_start"
    options: dict[str, Any] = {
        "outlet_kind": kind,
        "rise": size.rise,
        "cover": read.get("cover"),
        "min_grade": grade,
        "allowance": read.get("invert_allowance"),
        "doubt": read.get("doubt", PAIR_DOUBT),
        "face": read.get("curb_face"),
    }
    answer = quick_fall(outlet - start if rods else start - outlet, read["length"], unit=unit, **options)
    asked = FallAsked(
        unit,
        rods,
        start,
        outlet,
        kind,
        size,
        _assumptions(typed, answer, unit),
        _second_answers(typed, pair, unit, options, answer),
    )
    return asked, answer


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def _pair(typed: Mapping[str, Any], faults: list[InputError]) -> tuple[str, ...]:
    """Which two shots were given: both rods or both elevations, nothing between."""
    rods, elevations = ("rod_start", "rod_outlet"), ("start_elev", "outlet_elev")
    given = [name for name in (*rods, *elevations) if typed[name] is not None]
    for pair in (rods, elevations):
        if given == list(pair):
            return pair
        if len(given) == 1 and given[0] in pair:
            missing = pair[1] if given[0] == pair[0] else pair[0]
            faults.append(InputError(_option(missing), "is missing", f"Give it beside {_option(given[0])}."))
            return ()
    what = "no shots were given" if not given else f"{', '.join(map(_option, given))} do not go together"
    faults.append(
        InputError(
            "siteplan fall", what, "Give --rod-start and --rod-outlet of one set-up, or --start-elev and --outlet-elev."
        )
    )
    return ()


def _grade(text: str | None, faults: list[InputError]) -> float | None:
    if text is None:
        return None
    try:
        grade = units.read_grade(text)
    except ValueError as error:
        faults.append(InputError("--grade", str(error).partition(";")[0], "Type 1.25 (percent) or 1/8in/ft."))
        return None
    if not 0 < grade <= 0.5:
        faults.append(
            InputError("--grade", f"is {units.grade_text(grade)}", "Give a least grade above 0 and up to 50 percent.")
        )
    return grade


def _assumptions(typed: Mapping[str, Any], answer: QuickFall, unit: str) -> tuple[str, ...]:
    """Every figure that nobody typed, with where it comes from."""
    said = []
    if typed["outlet"] is None:
        said.append("outlet taken as a curb; --outlet tells another")
    if typed["cover"] is None:
        said.append(f"cover {units.length_text(answer.cover, unit)}")
    if typed["grade"] is None:
        said.append(f"least grade {units.grade_text(answer.min_grade)}")
    if typed["invert_allowance"] is None:
        said.append(f"outlet invert {units.length_text(answer.allowance, unit)} above the shot there")
    if typed["doubt"] is None:
        pair = (
            "two shots of one set-up"
            if typed["rod_start"] is not None
            else "two levelled elevations (more for a grid: --doubt)"
        )
        said.append(f"doubt {units.length_text(answer.doubt, unit)} for {pair}")
    said.append(f"outside top of pipe {units.length_text(answer.rise, unit, 3)} above its invert")
    return tuple(said)


def _second_answers(
    typed: Mapping[str, Any], pair: tuple[str, ...], unit: str, options: dict[str, Any], answer: QuickFall
) -> tuple[str, ...]:
    """Where the digits look like another unit, what the answer would be in it."""
    rods = pair[0] == "rod_start"
    texts = []
    for suspicion in doubted_readings(
        typed[pair[0]], typed[pair[1]], unit=unit, rods=rods, unit_given=typed["unit"] is not None
    ):
        if suspicion == "metres":
            start, outlet, length = (units.read_length(typed[name], "m") for name in (*pair, "length"))
            how, mend = "both shots are typed to 0.001, as metres are", "--unit m"
        else:
            start, outlet = (
                units.read_length("{}'-{}\"".format(*typed[name].strip().split(".")), unit) for name in pair
            )
            length = answer.length
            how, mend = (
                "both rods end in 00 to 11, as an inches rod does",
                "readings typed as " + "{}'-{}\"".format(*typed[pair[0]].strip().split(".")),
            )
        other = quick_fall(outlet - start if rods else start - outlet, length, **options)
        texts.append(
            f"{how}: read that way it is {_VERDICTS[other.verdict]} ({units.drop_text(other.spare, unit)} to "
            f"spare); if so use {mend}"
        )
    return tuple(texts)


def fall_as_text(asked: FallAsked, answer: QuickFall) -> str:
    """The answer as a screen of a dozen lines.

    Parameters
    ----------
    asked : Asked
        The question as understood.
    answer : QuickFall
        The answer.

    Returns
    -------
    str
        Lines without a trailing newline.
    """
    unit = asked.unit

    def plain(value: float) -> str:
        return units.length_text(value, unit)

    drop = (
        f"ground falls {plain(answer.drop)}"
        if answer.drop >= 0
        else f"ground RISES {plain(-answer.drop)} toward the outlet"
    )
    spare = (
        "nothing to spare"
        if nothing_text(answer.spare, unit)
        else f"{units.drop_text(answer.spare, unit)} to spare"
        if answer.spare >= 0
        else f"short by {units.drop_text(-answer.spare, unit)}"
    )
    hole = "the hole would take too much of the curb; by fall " if answer.hole_fails else ""
    lines = [
        f"{_VERDICTS[answer.verdict]}: {hole}{spare}, doubt +-{units.drop_text(answer.doubt, unit)}",
        (
            f"  fall available  {units.drop_text(answer.fall_available, unit)}: {drop}, less "
            f"{plain(answer.cover)} cover, {plain(answer.rise)} pipe, {plain(answer.allowance)} at the outlet"
        ),
        (
            f"  fall needed     {units.drop_text(answer.fall_needed, unit)}: {units.grade_text(answer.min_grade)} "
            f"of {units.length_text(answer.length, unit, 1)}"
        ),
        (
            "  steepest        "
            f"{units.grade_text(answer.grade_max)}{'' if answer.grade_max > 0 else ' (the pipe would run uphill)'}"
        ),
    ]
    if answer.grade_chosen is not None and answer.start_cover is not None:
        per = (
            f"{answer.grade_chosen * 1000:.1f} mm per m"
            if unit == "m"
            else f"{answer.grade_chosen / units.GRADE['in_per_ft']:.3f}".rstrip("0") + " in per ft"
        )
        lines.append(
            f"  choose          {_finely(answer.grade_chosen)} ({per}): {_start(asked, answer)}, cover at the "
            f"start {fall_text(answer.start_cover, unit)}"
        )
    lines.append(f"  outlet          {_outlet(asked, answer)}")
    if asked.outlet_kind == "curb":
        lines.append(f"  curb hole       {_hole(answer, unit)}")
    steep = default_limit(rules.MAX_GRADE)
    if answer.grade_max > steep:
        lines.append(f"  steep           over {units.grade_text(steep)} a run wants a drop fitting or anchors")
    lines.append(
        f"  would flip it   {'; '.join(flip.text for flip in answer.flips[: 3 if answer.verdict != 'go' else 4])}"
    )
    lines += [f"  LOOK            {text}" for text in asked.cautions]
    lines.append(f"  assumed         {'; '.join(asked.assumptions)} (common practice; pipe book)")
    lines.append("  not known       the ground between the two shots: a dip thins the cover, a hump deepens the trench")
    return "\n".join(lines)


def _finely(grade: float) -> str:
    """A grade to lay: a third digit where two would round it, for 1/8 in per ft is 1.042 %, not 1.04."""
    return units.grade_text(grade) if abs(round(grade * 100, 2) - grade * 100) < 5e-4 else f"{grade * 100:.3f} %"


def _start(asked: FallAsked, answer: QuickFall) -> str:
    assert answer.start_cover is not None
    unit = asked.unit
    under = "; at the pop-up the pipe stays under the lawn, below its rim" if asked.outlet_kind == "popup" else ""
    if asked.rods:
        top_start = asked.start + answer.start_cover
        if asked.outlet_kind == "popup":
            return f"rod on top of pipe {units.length_text(top_start, unit)} at the start{under}"
        top_outlet = asked.outlet - answer.allowance - answer.rise
        return (
            f"rod on top of pipe {units.length_text(top_start, unit)} at the start, "
            f"{units.length_text(top_outlet, unit)} at the outlet (same set-up)"
        )
    invert = asked.start - answer.start_cover - answer.rise
    return f"start invert {units.length_text(invert, unit)}{under}"


def _outlet(asked: FallAsked, answer: QuickFall) -> str:
    unit = asked.unit
    what = "rim" if asked.outlet_kind == "popup" else "invert"
    where = "" if asked.rods else f"{what} {units.length_text(asked.outlet + answer.allowance, unit)}, "
    text = (
        f"popup: {where}fall counts down to the rim"
        if asked.outlet_kind == "popup"
        else (
            f"{asked.outlet_kind}: {where}{units.length_text(answer.allowance, unit)} above the "
            f"{SHOT_IS[asked.outlet_kind]}"
        )
    )
    if asked.outlet_kind == "popup":
        least = "" if answer.stands_full >= answer.length else "at least "
        full = units.length_text(answer.stands_full, unit, 0)
        return (
            f"{text}; {least}{full} of the line stands full up to the rim, and freezes, unless a weep at the low "
            "elbow empties it"
        )
    if answer.outlet_cover is None:
        return f"{text}; cover there not known"
    cover = fall_text(answer.outlet_cover, unit)
    shows = (
        (
            f"cover there {cover} under a "
            f"{fall_text(USUAL_CURB_FACE if answer.face is None else answer.face, unit)} curb face"
        )
        if asked.outlet_kind == "curb"
        else f"cover there {cover}: the pipe shows"
    )
    return f"{text}; {shows}: outlet zone, heavy pipe, no tilling"


def _hole(answer: QuickFall, unit: str) -> str:
    """Concrete over the hole: kept, short, or not to be told without the face."""
    want = f"{fall_text(answer.concrete_asked, unit)} asked (practice; the city's detail decides)"
    if answer.concrete is not None and answer.face is not None:
        said = "SHORT: " if answer.hole_fails else ""
        return (
            f"{said}{fall_text(answer.concrete, unit)} of concrete over it in a {fall_text(answer.face, unit)} "
            f"face, {want}"
        )
    usual = fall_text(USUAL_CURB_FACE - answer.allowance - answer.rise, unit)
    return (
        f"cannot tell: the face is not typed (--curb-face); a {fall_text(USUAL_CURB_FACE, unit)} face would leave "
        f"{usual} of concrete over it, {want}"
    )


def fall_as_json(asked: FallAsked, answer: QuickFall) -> str:
    """The answer for programs: metres, and percent where a key says so.

    Parameters
    ----------
    asked : Asked
        The question as understood.
    answer : QuickFall
        The answer.

    Returns
    -------
    str
        One JSON object, keys in a fixed order.
    """
    import json  # only when asked for: start-up

    def figure(value: float | None) -> float | None:
        return None if value is None else round(value, 6) + 0.0

    def percent(ratio: float | None) -> float | None:
        return None if ratio is None else round(ratio * 100, 4) + 0.0

    chosen = answer.start_cover is not None
    invert = (
        asked.start - answer.start_cover - answer.rise if answer.start_cover is not None and not asked.rods else None
    )
    flips = [
        {
            "change": flip.change,
            "by": percent(flip.by) if flip.change == "grade" else figure(flip.by),
            "to": percent(flip.to) if flip.change == "grade" else figure(flip.to),
            "unit": "percent" if flip.change == "grade" else "m",
            "text": flip.text,
        }
        for flip in answer.flips
    ]
    return json.dumps(
        {
            "verdict": answer.verdict,
            "fall_available": figure(answer.fall_available),
            "fall_needed": figure(answer.fall_needed),
            "spare": figure(answer.spare),
            "doubt": figure(answer.doubt),
            "grade_max_percent": percent(answer.grade_max),
            "flip": flips[0],
            "flips": flips,
            "grade_chosen_percent": percent(answer.grade_chosen),
            "min_grade_percent": percent(answer.min_grade),
            "drop": figure(answer.drop),
            "length": figure(answer.length),
            "cover": figure(answer.cover),
            "start_cover": figure(answer.start_cover) if chosen else None,
            "start_invert": figure(invert),
            "outlet_invert": None if asked.rods else figure(asked.outlet + answer.allowance),
            "outlet_cover": figure(answer.outlet_cover),
            "stands_full": figure(answer.stands_full),
            "curb_face": figure(answer.face),
            "curb_concrete": figure(answer.concrete),
            "outlet": asked.outlet_kind,
            "pipe": {"kind": asked.pipe.kind, "nominal": asked.pipe.nominal, "rise": figure(asked.pipe.rise)},
            "unit": "m",
            "assumptions": list(asked.assumptions),
            "cautions": list(asked.cautions),
        },
        indent=1,
    )
