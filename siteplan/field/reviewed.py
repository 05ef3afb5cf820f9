"""One finding of a review: the rule or part, whom it speaks of, status, place, words."""

from __future__ import annotations

from dataclasses import dataclass

from siteplan.values import Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed:
    """A comment of the reviewer."""

    rule: str
    subject: str
    status: Status
    where: str
    message: str


def finding(rule: str, subject: str, status: Status, message: str, where: str = "") -> Reviewed:
    """A comment.

    Parameters
    ----------
    rule, subject : str
        Rule or part, and the id of what it speaks of.
    status : str
        pass, flag or fail.
    message, where : str
        Words and place.

    Returns
    -------
    Reviewed
        The comment.
    """
    return Reviewed(rule=rule, subject=subject, status=status, where=where, message=message)
