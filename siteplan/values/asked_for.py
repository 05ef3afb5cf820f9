"""What a plan was asked for, and the files that it was made from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """A file that was read: its name inside the site folder and the digest of its bytes."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What a plan was asked beside its site's own words. All empty: the site as surveyed.

    `settings` are pairs of a key of site.toml and the text laid over it; a key without a section's name is a rule's.
    """

    without: tuple[str, ...] = ()  # outlets left out of play
    only: tuple[str, ...] = ()  # outlets in play, and no found ones
    settings: tuple[tuple[str, str], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.without or self.only or self.settings)

    def plays(self, outlet: str) -> bool:
        """Whether an outlet of this name is in play."""
        return outlet not in self.without and (not self.only or outlet in self.only)


NOTHING_ASKED = WhatIf()

USUAL_LAYOUTS = 3

MOST_LAYOUTS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicesAsked:
    """Which layout a plan was asked to take, and how many to look for."""

    choose: int | None = None  # number in the table; None: the cheapest of those with the fewest fails
    count: int = USUAL_LAYOUTS
    front: bool = False  # every step of grade that serves all is laid, and cost drawn against fall to spare


USUAL_CHOICES = ChoicesAsked()
