"""What looks wrong in a site though it can be read: asked about, or said where people read.

Every limit is common practice, no source.

A question stops the reading with its evidence until a person answers it: by mending the figure, or by naming the
question in `confirm` of site.toml. What is only odd becomes an assumption that begins with 'look again'.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from siteplan.errors import InputError, raise_gathered
from siteplan.survey.files import said

_FILE = "site.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Oddity:
    """Something that a house lot hardly shows."""

    key: str  # what `confirm` names
    where: str  # as an error begins
    what: str
    mend: str
    asks: bool  # stop until a person answers; else only said


def answered(oddities: Sequence[Oddity], confirmed: Collection[str]) -> tuple[str, ...]:
    """What is to be said, once nothing is left to ask.

    Parameters
    ----------
    oddities : sequence of Oddity
        All that were found.
    confirmed : collection of str
        Keys that a person confirmed in site.toml.

    Returns
    -------
    tuple of str
        Sentences for the plan's assumptions.

    Raises
    ------
    InputError, InputErrors
        For every question that nobody answered.
    """
    given = {name.casefold() for name in confirmed}
    open_ones = [one for one in oddities if one.asks and one.key.casefold() not in given]
    raise_gathered(
        [
            InputError(one.where, one.what, f'{one.mend} Or, if it is meant, add "{one.key}" to confirm in {_FILE}.')
            for one in open_ones
        ]
    )
    known = {one.key.casefold() for one in oddities}
    notes = [
        f"confirm in {_FILE}: {one.key} was confirmed although it {one.what}"
        if one.asks
        else f"look again: {one.where}: {one.what}. {one.mend}"
        for one in oddities
    ]
    return (
        *notes,
        *(
            f'confirm in {_FILE} names "{said(name)}", which nothing asks about'
            for name in confirmed
            if name.casefold() not in known
        ),
    )
