"""Two shots, a length, a cover and the kind of outlet in; is there fall, how sure, and what would flip it, out.

The contractor's question before any survey. It knows the ends and nothing between them, and says so.
Standard library only, and little of it: `siteplan fall` answers in a truck.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from siteplan import units
from siteplan.books import rules
from siteplan.books.pipes import Outline, outline_in_book, outlines
from siteplan.books.practice import (
    FLATTEST_BY_LASER,
    GRADE_STEP,
    PAIR_DOUBT,
    SWALE_RISE,
    THINNEST_COVER,
    USUAL_CURB_FACE,
)
from siteplan.errors import InputError

FALL_OUTLETS = ("curb", "daylight", "swale", "popup")
SHOT_IS = {
    "curb": "gutter flow line, not the top of the curb",
    "daylight": "ground at the face where the pipe comes out",
    "swale": "flow line of the swale",
    "popup": "rim of the pop-up, which is the ground there",
}
POPUP_ALLOWANCE = 0.0  # water leaves over the rim, so nothing below the rim counts as fall
_EXACT = 1e-6  # m


class Flip(NamedTuple):
    """One change that would turn the verdict over. `by` and `to` are metres, grades are ratios."""

    change: str  # cover | grade | outlet | length | shots | pump | curb
    by: float | None
    to: float | None
    text: str


class QuickFall(NamedTuple):
    """The answer, in metres and ratios."""

    verdict: str  # go | no-go | cannot-tell
    drop: float  # ground at the start above the shot at the outlet
    length: float
    cover: float
    rise: float  # outside top of pipe above its invert
    allowance: float  # outlet invert above the shot there
    fall_available: float
    fall_needed: float
    spare: float
    doubt: float
    min_grade: float
    grade_max: float
    grade_chosen: float | None  # buildable, with the doubt kept in hand
    start_cover: float | None  # at the chosen grade
    outlet_cover: float | None  # None: the ground above the outlet is not known
    stands_full: (
        float  # least length that holds water up to a pop-up's rim unless it weeps: the pipe's end is under the lawn
    )
    flips: tuple[Flip, ...]  # the one that matters first
    face: float | None = None  # of the curb, as typed
    concrete: float | None = None  # left over the curb hole; None: no curb, or its face is not known
    concrete_asked: float = 0.0

    @property
    def hole_fails(self) -> bool:
        """Whether the curb hole leaves less concrete than asked."""
        return self.concrete is not None and self.concrete < self.concrete_asked - _EXACT


def pipe_size(kind: str, nominal_in: str = "4") -> Outline:
    """A pipe of the book by kind and nominal inches, without building the whole catalogue.

    Parameters
    ----------
    kind : str
        Kind as in pipes.csv, such as 'pvc_sdr35'.
    nominal_in : str
        Nominal size as typed: '4' (inches), '4 in' or 'DN 110'.

    Returns
    -------
    Outline
        With the height of its outside top above the invert [m].

    Raises
    ------
    InputError
        If the book has no such pipe; lists the kinds, or the sizes of the kind.
    """
    book = outlines()
    sizes = [entry for entry in book if entry.kind == kind]
    if not sizes:
        kinds = ", ".join(dict.fromkeys(entry.kind for entry in book))
        raise InputError("--pipe", f"the book has no pipe {kind!r}", f"Give one of {kinds}.")
    entry = outline_in_book(kind, nominal_in)
    if entry is not None:
        return entry
    typed = nominal_in.strip()
    said = f"{typed} in" if typed.isdigit() else typed
    raise InputError(
        "--size",
        f"the book has no {kind} of {said}",
        f"Give one of {', '.join(entry.nominal.removesuffix(' in') for entry in sizes)}.",
    )


def default_limit(rule: rules.Rule) -> float:
    """A rule's default limit without building the whole book.

    Parameters
    ----------
    rule : Rule
        A declared rule with a limit.

    Returns
    -------
    float
        Metres, or a ratio for a grade.

    Raises
    ------
    ValueError
        If the rule has no limit.
    """
    if rule.limit is None:
        raise ValueError(f"{rule.id} has no limit")
    factor = units.GRADE[rule.unit] if rule.dimension == "grade" else units.LENGTH[rule.unit.replace("_", "-")]
    return rule.limit * factor


def default_allowance(outlet_kind: str) -> float:
    """How far the outlet invert stays above the shot at the outlet, when nobody says otherwise.

    Parameters
    ----------
    outlet_kind : str
        'curb', 'daylight', 'swale' or 'popup'.

    Returns
    -------
    float
        Height above gutter flow line, face ground, swale flow line or rim [m].

    References
    ----------
    Common practice, no source: 0.04, 0.05, 0.33 and 0 ft.
    """
    return {
        "curb": default_limit(rules.CURB_ALLOWANCE),
        "daylight": default_limit(rules.DAYLIGHT_ALLOWANCE),
        "swale": SWALE_RISE,
        "popup": POPUP_ALLOWANCE,
    }[outlet_kind]


def quick_fall(
    drop: float,
    length: float,
    *,
    outlet_kind: str,
    rise: float,
    cover: float | None = None,
    min_grade: float | None = None,
    allowance: float | None = None,
    doubt: float = PAIR_DOUBT,
    face: float | None = None,
    unit: str = "ft",
) -> QuickFall:
    """Whether a straight grade from a start under cover reaches the outlet.

    Parameters
    ----------
    drop : float
        Ground at the start above the shot at the outlet [m]: rod at the outlet minus rod at the start.
    length : float
        Length along the pipe [m], above 0.
    outlet_kind : str
        'curb', 'daylight', 'swale' or 'popup'.
    rise : float
        Outside top of the pipe above its invert [m].
    cover : float, optional
        Least cover over the pipe at the start [m]; the rule's default when absent.
    min_grade : float, optional
        Least grade [-]; the rule's default when absent.
    allowance : float, optional
        Outlet invert above the shot at the outlet [m]; by kind of outlet when absent.
    doubt : float
        Doubt of the drop [m], 0 or above.
    face : float, optional
        Height of the curb's face, gutter flow line to top [m]; with it the concrete over the hole is judged.
    unit : str
        'ft', 'us-ft' or 'm': how the flips are worded and rounded.

    Returns
    -------
    QuickFall
        The verdict, its figures and the changes that would turn it over.

    References
    ----------
    fall available = drop - cover - rise - allowance; fall needed = least grade x length. Common practice, no source.

    Examples
    --------
    >>> answer = quick_fall(2.64 * 0.3048, 84 * 0.3048, outlet_kind="curb", rise=0.3412 * 0.3048)
    >>> answer.verdict, round(answer.spare / 0.3048, 2)
    ('go', 0.42)
    """
    cover = default_limit(rules.MIN_COVER) if cover is None else cover
    min_grade = default_limit(rules.MIN_GRADE) if min_grade is None else min_grade
    allowance = default_allowance(outlet_kind) if allowance is None else allowance
    available = drop - cover - rise - allowance
    needed = min_grade * length
    spare = available - needed
    concrete = None if face is None or outlet_kind != "curb" else face - allowance - rise
    asked = default_limit(rules.CURB_CONCRETE)
    short = concrete is not None and concrete < asked - _EXACT
    verdict = "go" if spare > doubt + 1e-9 else "no-go" if spare < -doubt - 1e-9 else "cannot-tell"
    chosen = _buildable(available - doubt, length, min_grade) if verdict == "go" and not short else None
    stands_full = (
        _stands_full(available if chosen is None else chosen * length, length, rise, min_grade)
        if outlet_kind == "popup"
        else 0.0
    )
    answer = QuickFall(
        verdict="no-go" if short else verdict,
        drop=drop,
        length=length,
        cover=cover,
        rise=rise,
        allowance=allowance,
        fall_available=available,
        fall_needed=needed,
        spare=spare,
        doubt=doubt,
        min_grade=min_grade,
        grade_max=available / length,
        grade_chosen=chosen,
        start_cover=None if chosen is None else cover + available - chosen * length,
        outlet_cover={
            "curb": (USUAL_CURB_FACE if face is None else face) - allowance - rise,
            "daylight": -allowance - rise,
        }.get(outlet_kind),
        stands_full=stands_full,
        flips=(),
        face=face,
        concrete=concrete,
        concrete_asked=asked,
    )
    if short and concrete is not None:
        by = asked - concrete
        room = units.length_text(rise - by, unit, 3) if unit == "m" else fall_text(rise - by, unit)
        text = (
            f"a pipe through the curb whose top is at most {room} above its invert, several of them if the flow "
            "asks for it, or another outlet"
        )
        hole = Flip("curb", -by, rise - by, text)
        return answer._replace(flips=(hole,) if verdict == "go" else (hole, *_saved(answer, unit)))
    return answer._replace(flips=_gone(answer, unit) if verdict == "go" else _saved(answer, unit))


def _stands_full(above: float, length: float, rise: float, min_grade: float) -> float:
    """Length that lies below a pop-up's rim.

    The start's invert is `above` it, the end's top no higher than the lawn there.

    A straight run; its end lies lower still where the least grade asks for it.
    """
    below = max(rise, min_grade * length - above)
    return length if above <= 0 else length * below / (above + below)


def _buildable(fall: float, length: float, min_grade: float) -> float:
    """Steepest whole quarter of a percent that the fall can pay for; the least grade when none lies between."""
    step = math.floor(fall / length / GRADE_STEP + 1e-9) * GRADE_STEP
    return max(min(step, default_limit(rules.MAX_GRADE)), min_grade)


def _past(amount: float, unit: str) -> float:
    """The next 0.01 ft (5 mm) beyond an amount, so that the change it names really turns the verdict."""
    step = 0.005 if unit == "m" else 0.01 * units.LENGTH[unit]
    return (math.floor(amount / step + 1e-9) + 1) * step


def _gone(answer: QuickFall, unit: str) -> tuple[Flip, ...]:
    """What would take a GO away, each by itself."""
    by = _past(answer.spare - answer.doubt, unit)
    flips = [
        Flip("outlet", by, None, f"an outlet {units.drop_text(by, unit)} higher than shot would take the GO away"),
        Flip(
            "cover",
            by,
            answer.cover + by,
            f"so would {units.length_text(answer.cover + by, unit)} of cover at the start",
        ),
    ]
    if answer.min_grade > 0:
        longer = by / answer.min_grade
        flips.append(
            Flip(
                "length",
                longer,
                answer.length + longer,
                f"or a line of {units.length_text(answer.length + longer, unit, 0)}",
            )
        )
    steeper = (math.floor((answer.fall_available - answer.doubt) / answer.length / 0.0005 + 1e-9) + 1) * 0.0005
    flips.append(Flip("grade", steeper - answer.min_grade, steeper, f"or a least grade of {units.grade_text(steeper)}"))
    return tuple(flips)


def _saved(answer: QuickFall, unit: str) -> tuple[Flip, ...]:
    """What would make it a GO, the least drastic first."""
    by = _past(answer.doubt - answer.spare, unit)
    in_hand = answer.fall_available - answer.doubt
    flips: list[Flip] = []
    if answer.verdict == "cannot-tell" and not nothing_text(answer.spare, unit):
        text = (
            f"shoot both ends again from one set-up until the doubt is under {units.drop_text(abs(answer.spare), unit)}"
        )
        flips.append(Flip("shots", answer.doubt - abs(answer.spare), abs(answer.spare), text))
    less = answer.cover - by
    if less >= THINNEST_COVER - 1e-9:
        flips.append(
            Flip(
                "cover",
                -by,
                less,
                (
                    f"{units.length_text(less, unit)} of cover at the start instead of "
                    f"{units.length_text(answer.cover, unit)} makes it GO (heavy pipe; ask)"
                ),
            )
        )
    flatter = math.floor(in_hand / answer.length / 0.0005 - 1e-9) * 0.0005
    if FLATTEST_BY_LASER - 1e-9 <= flatter < answer.min_grade:
        flips.append(
            Flip(
                "grade",
                flatter - answer.min_grade,
                flatter,
                f"a least grade of {units.grade_text(flatter)} makes it GO (smooth pipe laid by laser; ask)",
            )
        )
    if answer.min_grade > 0 and in_hand > 0:
        step = units.LENGTH[unit] if unit != "m" else 0.5
        shorter = math.floor(in_hand / answer.min_grade / step - 1e-9) * step
        if 0 < shorter < answer.length:
            flips.append(
                Flip(
                    "length",
                    shorter - answer.length,
                    shorter,
                    f"a line of {units.length_text(shorter, unit, 0)} makes it GO",
                )
            )
    flips.append(Flip("outlet", -by, None, f"an outlet {units.drop_text(by, unit)} lower makes it GO"))
    if flips[0].change in {"length", "outlet"}:
        text = (
            f"not fixable by grade or cover: {_cover_left(answer, answer.min_grade, unit)}; a pump, or another outlet"
        )
        flips.insert(0, Flip("pump", None, None, text))
    return tuple(flips)


def _cover_left(answer: QuickFall, grade: float, unit: str) -> str:
    """What cover a grade would leave at the start, at the least grade and at half a percent."""
    texts = []
    for one in dict.fromkeys((grade, min(grade, FLATTEST_BY_LASER))):
        left = answer.cover + answer.fall_available - one * answer.length
        cover = (
            f"leaves {fall_text(left, unit)} of cover"
            if left >= 0
            else f"lifts the pipe {fall_text(-left, unit)} out of the ground"
        )
        texts.append(f"{units.grade_text(one)} {cover} at the start")
    return ", ".join(texts)


def nothing_text(value: float, unit: str) -> bool:
    """Whether a drop is printed as nothing at all.

    Parameters
    ----------
    value : float
        Drop [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    bool
        True under half of 0.01 ft or of 1 mm, where no pair of shots can be told apart.
    """
    return abs(value) < 0.5 * (units.MILLIMETRE if unit == "m" else 0.01 * units.LENGTH[unit])


def fall_text(value: float, unit: str) -> str:
    """A cover as a crew says it: 1.1 in, or 27 mm on metric jobs.

    Parameters
    ----------
    value : float
        Height [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        One digit after the point in inches, whole millimetres.
    """
    if unit == "m":
        return f"{value / units.MILLIMETRE:.0f} mm"
    return f"{value / units.INCH + 0.0:.1f} in"


def doubted_readings(start: str, outlet: str, *, unit: str, rods: bool, unit_given: bool) -> tuple[str, ...]:
    """What the digits of two typed readings give away, for a second answer beside the first.

    Parameters
    ----------
    start, outlet : str
        As typed.
    unit : str
        Unit that bare numbers are read in.
    rods : bool
        Whether they are rod readings.
    unit_given : bool
        Whether a person named the unit.

    Returns
    -------
    tuple of str
        'metres' when both are typed to 0.001 and the unit is only the default, 'inches' when both are
        rod readings in feet whose digits after the point are 00 to 11; else empty.
    """
    tails = [text.strip().partition(".")[2] for text in (start, outlet)]
    if not all(tail.isdigit() for tail in tails):
        return ()
    if all(len(tail) == 3 for tail in tails) and not unit_given:
        return ("metres",)
    if (
        rods
        and unit != "m"
        and all(len(tail) == 2 and int(tail) <= 11 for tail in tails)
        and any(int(tail) for tail in tails)
    ):
        return ("inches",)
    return ()
