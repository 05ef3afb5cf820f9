"""What a check found in; the Finding out, its status from `verdict` and its words made here, in one place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, NamedTuple

import numpy as np

from siteplan.books.rules import Rule, settings_keys
from siteplan.checks.scene import SaidPlace, Scene, Words
from siteplan.checks.verdict import BROKEN, Answer, answer, codes, margins, status
from siteplan.checks.walk import Flags, Floats, Walk, runs_of_samples
from siteplan.values.told import Finding

Broken = Literal["fail", "flag"]


class Measure(NamedTuple):
    """How a quantity is printed, and its unit and scale in plan.json."""

    text: Callable[[Words, float], str]
    unit: str
    scale: float = 1.0
    slack: float = 0.0005  # what rounding alone may take, SI


HEIGHT = Measure(Words.small, "m")
DROP = Measure(Words.drop, "m")
DISTANCE = Measure(Words.far, "m", slack=0.005)
IN_PERCENT = Measure(Words.percent, "percent", 100.0, 1e-6)
ANGLE = Measure(Words.degrees, "deg", slack=0.5)  # half a degree: a joint takes it


def ruled(
    scene: Scene,
    rule: Rule,
    subject: str,
    value: float,
    *,
    measure: Measure,
    said: str,
    where: str,
    limit: float | None,
    doubt: float = 0.0,
    broken: Broken | None = None,
    sense: str | None = None,
    more: str = "",
) -> Finding:
    """A finding on a value that has a limit.

    Parameters
    ----------
    scene : Scene
        For the user's units.
    rule : Rule
        The rule judged by.
    subject : str
        Begins with the id of the line or source.
    value : float
        What was found [SI].
    measure : Measure
        How it is printed.
    said : str
        What the value is: 'cover', 'distance from Oak'.
    where : str
        The place.
    limit : float or None
        Limit in force [SI]; None: not known.
    doubt : float
        One standard deviation of the value [SI]; 0 for what is designed.
    broken : str, optional
        'fail' or 'flag' where this differs from the rule's own.
    sense : str, optional
        'at least' or 'at most' where the rule itself has none.
    more : str
        A sentence added when the limit is not kept.

    Returns
    -------
    Finding
        'cannot tell' is written as a flag whose message begins with these words.
    """
    sense = sense or rule.sense
    said_of = answer(value, limit, sense, doubt=doubt, slack=measure.slack)
    return Finding(
        rule=rule.id,
        subject=subject,
        value=value * measure.scale,
        unit=measure.unit,
        where=str(where),
        place=where.value(subject) if isinstance(where, SaidPlace) else None,
        limit=None if limit is None else limit * measure.scale,
        doubt=doubt * measure.scale if doubt else None,
        status=status(said_of, broken or rule.broken),
        message=_sentence(scene.words, rule, said_of, value, limit, sense, doubt, measure, said, more),
    )


def plain(
    rule: Rule,
    subject: str,
    said: Answer,
    message: str,
    *,
    where: str = "",
    value: float | None = None,
    unit: str = "m",
    limit: float | None = None,
    broken: Broken | None = None,
) -> Finding:
    """A finding on something that is or is not so.

    Parameters
    ----------
    rule : Rule
        The rule judged by.
    subject : str
        Begins with the id of the line or source.
    said : str
        'kept', 'broken' or 'cannot tell'.
    message : str
        What was found, one sentence.
    where : str
        The place.
    value : float, optional
        A length or the like that goes with it [unit].
    unit : str
        Unit of the value.
    limit : float, optional
        Limit that stands beside the value [unit].
    broken : str, optional
        'fail' or 'flag' where this differs from the rule's own.

    Returns
    -------
    Finding
        Judged by the caller: said in one word, turned into a status here.
    """
    text = f"cannot tell: {message}" if said == "cannot tell" else message
    return Finding(
        rule=rule.id,
        subject=subject,
        value=value,
        limit=limit,
        unit=unit if value is not None else "",
        doubt=None,
        status=status(said, broken or rule.broken),
        where=str(where),
        place=where.value(subject) if isinstance(where, SaidPlace) else None,
        message=text,
    )


def stations_reached(
    scene: Scene,
    rule: Rule,
    walk: Walk,
    values: Floats,
    mask: Flags,
    *,
    measure: Measure,
    said: str,
    limit: float | None,
    doubt: float = 0.0,
    broken: Broken | None = None,
    more: str = "",
    subject: str | None = None,
) -> list[Finding]:
    """Findings on a value along a line: one for each stretch that breaks the limit, else one at the tightest place.

    Parameters
    ----------
    scene : Scene
        For the user's units.
    rule : Rule
        The rule judged by.
    walk : Walk
        The walked line.
    values : ndarray, shape (n,) [SI]
        At the samples; NaN where not known.
    mask : ndarray of bool, shape (n,)
        Where the rule applies.
    measure, said, limit, doubt, broken, more
        As for `ruled`.
    subject : str, optional
        The line's id when absent.

    Returns
    -------
    list of Finding
        Empty where the rule applies nowhere.
    """
    mask = mask & np.isfinite(values)
    if not mask.any():
        return []
    subject = subject or walk.line.id
    lowest = rule.sense == "at least"
    hidden = np.inf if lowest else -np.inf

    def worst(held: Flags) -> int:
        shown = np.where(held, np.round(values, 6), hidden)  # of equal places the lowest station
        return int(np.argmin(shown) if lowest else np.argmax(shown))

    def one(at: int, where: str) -> Finding:
        return ruled(
            scene,
            rule,
            subject,
            float(values[at]),
            measure=measure,
            said=said,
            where=where,
            limit=limit,
            doubt=doubt,
            broken=broken,
            more=more,
        )

    words = scene.words
    if limit is not None:
        margin = margins(np.where(mask, values, limit), limit, rule.sense)
        out = mask & (codes(margin, doubt=doubt, slack=measure.slack) == BROKEN)
        places = runs_of_samples(out)
        if places:
            found = []
            for first, last in places:
                held = np.zeros(len(values), dtype=bool)
                held[first : last + 1] = True
                found.append(one(worst(held), words.stations(walk.s[first], walk.s[last])))
            return found
    tightest = worst(mask)
    return [one(tightest, words.station(walk.s[tightest]))]


def _sentence(
    words: Words,
    rule: Rule,
    said_of: Answer,
    value: float,
    limit: float | None,
    sense: str,
    doubt: float,
    measure: Measure,
    said: str,
    more: str,
) -> str:
    def show(number: float) -> str:
        return measure.text(words, number)

    if limit is None:
        key = settings_keys(rule)
        ask = f"; set {key[0]} under [rules] in site.toml" if key else ""
        return f"limit not known: {said} {show(value)}, nothing to judge it by{ask}"
    margin = float(margins(np.array([value]), limit, sense)[0])
    nought = show(abs(margin)) == show(0.0)
    if abs(margin) <= measure.slack or (nought and margin > 0):
        left = "nothing to spare"
    elif nought:
        left = f"{'short' if sense == 'at least' else 'over'} by less than the last figure"
    elif margin > 0:
        left = f"{show(margin)} to spare"
    else:
        left = f"{show(-margin)} {'short' if sense == 'at least' else 'over'}"
    text = f"{said} {show(value)}; {sense} {show(limit)} asked, {left}"
    if limit == 0 and sense == "at least" and margin > measure.slack:
        text = f"{said} {show(value)}; 0 or more asked"  # what is to spare is the figure itself
    if said_of == "cannot tell":
        return f"cannot tell: {text}; doubt of {show(doubt)} in the survey"
    if said_of == "kept":
        return text
    return f"{text}. {more}".rstrip(". ") + "." if more else text
