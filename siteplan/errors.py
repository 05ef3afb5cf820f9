"""What can go wrong, said once: where it is, what is wrong, how to mend it.

    SiteplanError            root of everything raised on purpose
    +-- InputError           one thing the user gave that cannot be used (exit code 2)
    |   +-- NotGiven         one that only a person can give, and has not yet: an answer, a part of the survey
    +-- InputErrors          several of them, gathered over one stage of reading (exit code 2)

'It cannot be done' is not an error here: an infeasible line is a value with its margin and reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

TYPE_CHECKING = False  # `typing` itself takes longer to load than a quick command may
if TYPE_CHECKING:
    from typing import TypeVar

    Read = TypeVar("Read")

_SHOWN = 10
_ALIKE = 0.6  # share of letters that two names must have in common, in order, to be taken for one misspelt
_NAME = 60  # characters of a name that are looked at
_KEPT = "\n\t\u00a0"  # not printable by Unicode's word, and harmless


def harmless(text: str) -> str:
    r"""Text that a terminal only shows.

    No escape, bell, direction mark or other unseen character of a stranger's file acts on it.

    Parameters
    ----------
    text : str
        What is about to be written to a terminal or a pipe.

    Returns
    -------
    str
        Such characters as \u001b and the like, which JSON reads back as what they were.

    Examples
    --------
    >>> harmless("a" + chr(27) + "[2J")
    'a\\u001b[2J'
    """
    if all(line.isprintable() for line in text.split("\n")):
        return text
    return "".join(c if c.isprintable() or c in _KEPT else _escaped(c) for c in text)


def _escaped(char: str) -> str:
    code = ord(char)
    if code <= 0xFFFF:
        return f"\\u{code:04x}"
    code -= 0x10000
    return f"\\u{0xD800 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"


def alike_or(given: str, known: Iterable[str], otherwise: str = "", *, mark: str = "") -> str:
    """How to mend a name that is not known: the one that is like it, else where the names stand.

    Parameters
    ----------
    given : str
        As typed.
    known : iterable of str
        Names that would do.
    otherwise : str
        What to say where none is alike; a list of all when absent.
    mark : str
        Quotation mark about names.

    Returns
    -------
    str
        One sentence.

    Examples
    --------
    >>> alike_or("pavment", ("pavement", "lawn"))
    'Did you mean pavement?'
    >>> alike_or("nonsense", ("pavement", "lawn"))
    'Known here are pavement, lawn.'
    """
    import difflib  # only a misspelt name needs it; quick commands start through this file

    names = list(known)
    near = difflib.get_close_matches(given[:_NAME], names, n=1, cutoff=_ALIKE)
    if near:
        return f"Did you mean {mark}{near[0]}{mark}?"
    return otherwise or f"Known here are {', '.join(f'{mark}{name}{mark}' for name in names)}."


def as_written(value: object) -> str:
    """A value read from TOML or JSON as its file writes it, so that whoever typed it finds it again.

    Parameters
    ----------
    value : object
        Text, number, true or false, null, day, time, list or table.

    Returns
    -------
    str
        Texts in quotes; a table is told as one.

    Examples
    --------
    >>> as_written(True), as_written(None), as_written("lawn"), as_written([1, 2.5])
    ('true', 'null', '"lawn"', '[1, 2.5]')
    """
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, bool) or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"[{', '.join(as_written(one) for one in value[:_SHOWN])}{', ...' if len(value) > _SHOWN else ''}]"
    day_or_time = getattr(value, "isoformat", None)
    if day_or_time is not None:
        return str(day_or_time())
    return repr(value) if not isinstance(value, int) or abs(value) < 10**30 else f"a number of {len(str(value))} digits"


class SiteplanError(Exception):
    """Root of the errors raised on purpose."""


class InputError(SiteplanError, ValueError):
    """One fault in what the user gave.

    Parameters
    ----------
    where : str
        File, row, feature, key or option, as the user would look for it.
    what : str
        What is wrong, with what was read and what was expected, in the user's units.
    mend : str
        One sentence that says how to mend it.
    """

    def __init__(self, where: str, what: str, mend: str) -> None:
        super().__init__(where, what, mend)
        self.where = where
        self.what = what
        self.mend = mend

    def __str__(self) -> str:
        text = f"{self.where}: {self.what.rstrip('.')}. {self.mend}"
        return " ".join("".join(c if c.isprintable() else " " for c in text).split())


class NotGiven(InputError):  # noqa: N818 -- it is what a person is asked for, not a mistake of his
    """Something that a person has not given yet: an answer that nothing proves, a part of the survey.

    Parameters
    ----------
    where, what, mend : str
        See `InputError`.
    key : str
        Key of site.toml that answers it; '' where no one key does.
    """

    def __init__(self, where: str, what: str, mend: str, *, key: str = "") -> None:
        super().__init__(where, what, mend)
        self.key = key


class InputErrors(SiteplanError, ValueError):  # noqa: N818 -- it ends in Errors, for it holds several
    """Several faults of one reading stage; printed one a line, at most ten.

    Parameters
    ----------
    faults : sequence of InputError
        In the order met, at least one.
    """

    def __init__(self, faults: Sequence[InputError]) -> None:
        super().__init__(tuple(faults))
        self.faults = tuple(faults)

    def __str__(self) -> str:
        lines = [str(fault) for fault in self.faults[:_SHOWN]]
        if len(self.faults) > _SHOWN:
            lines.append(f"and {len(self.faults) - _SHOWN} more")
        return "\n".join(lines)


def raise_gathered(faults: Sequence[InputError]) -> None:
    """Raise what a reading stage gathered: nothing, the one fault, or all of them.

    Parameters
    ----------
    faults : sequence of InputError
        In the order met; may be empty.

    Raises
    ------
    InputError
        When there is exactly one fault.
    InputErrors
        When there are several.
    """
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise InputErrors(faults)


def read_or_gather(read: Callable[[], Read], faults: list[InputError]) -> Read | None:
    """What a reader gives; where it refuses, its faults are added to those gathered so far.

    Parameters
    ----------
    read : callable
        Raises `InputError` or `InputErrors` for what cannot be used.
    faults : list of InputError
        Grows.

    Returns
    -------
    object or None
        None where it refused.
    """
    try:
        return read()
    except InputErrors as several:
        faults += several.faults
    except InputError as fault:
        faults.append(fault)
    return None
