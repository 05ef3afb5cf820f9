"""A site's unit in; the cautions that stand on every sheet out, in English and in Spanish."""

from __future__ import annotations

from siteplan.books.phrases import Language, phrase
from siteplan.books.rules import TRENCH_DEPTHS
from siteplan.values.whole_plan import Plan


def cautions(unit: str, *, pumped: bool = False, language: Language = "english") -> tuple[str, ...]:
    """The usual cautions, with the depths of the trench standard in the site's unit.

    Parameters
    ----------
    unit : str
        'ft', 'us-ft' or 'm'.
    pumped : bool
        Whether a pump lifts through a line under pressure.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    tuple of str
        One sentence or two each; metric depths are rounded down, to the safe side.

    References
    ----------
    US federal trench standard, 29 CFR 1926.651(c)(2), 1926.651(j)(2) and 1926.652(a)(1): way out at 4 ft, spoil 2 ft
    back, protection at 5 ft.
    """
    ladder, protection, back = TRENCH_DEPTHS["m" if unit == "m" else "ft"]
    usual = (
        phrase("caution.aid", language),
        phrase("caution.locates", language),
        phrase("caution.trench", language, ladder=ladder, protection=protection, back=back),
        *(
            phrase(one, language)
            for one in ("caution.permission", "caution.traffic", "caution.frost", "caution.survey")
        ),
    )
    if not pumped:
        return usual
    more = ("caution.pump", "caution.wiring", "caution.leak", "caution.curve")
    return (*usual, *(phrase(one, language) for one in more))


def cautions_in(plan: Plan, language: Language) -> tuple[str, ...]:
    """The cautions of a plan in a language.

    Parameters
    ----------
    plan : Plan
        The plan, whose cautions are in English.
    language : str
        'english' or 'spanish'.

    Returns
    -------
    tuple of str
        One for each; a caution that is not ours stands as the plan has it.
    """
    ours, said = (cautions(plan.length_unit, pumped=True, language=one) for one in ("english", language))
    told = dict(zip(ours, said, strict=True))
    return tuple(told.get(text, text) for text in plan.cautions)
