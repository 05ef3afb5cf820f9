"""A site folder that was begun in; what a person reads of it, and the same for programs, out."""

from __future__ import annotations

import json

from siteplan.begin.new_site import PROPOSED_FILE, NewSite
from siteplan.sheets.wording import one_line


def new_as_text(begun: NewSite, folder: str) -> str:
    """What was written, what is proven and what stays open.

    Parameters
    ----------
    begun : NewSite
        From `new_site`.
    folder : str
        As the user named it.

    Returns
    -------
    str
        A line a file and a line a key.
    """
    shown = one_line(folder)
    lines = [f"Begun in {shown}: site.toml"]
    for name, origin, digest in begun.files:
        lines.append(f"  {name}  {_whence(name, origin)}, sha256 {digest[:16]}...")
    told = [(key, one) for key, one in begun.settled.items() if one.value is not None]
    if told:
        lines += ["", "Settled:"]
        lines += [f"  {key} = {one.value}: {one.why}" for key, one in told]
    if begun.open_keys:
        lines += ["", "Open, as comments in site.toml for you to answer:"]
        lines += [f"  {key}: {begun.settled[key].why}" for key in begun.open_keys]
    lines += ["", f"siteplan check {shown} tells what is still missing."]
    return "\n".join(lines)


def _whence(name: str, origin: str) -> str:
    return f"from {origin}" if origin else "for you to confirm" if name == PROPOSED_FILE else "to be filled in"


def new_as_json(begun: NewSite) -> str:
    """The same for programs.

    Parameters
    ----------
    begun : NewSite
        From `new_site`.

    Returns
    -------
    str
        files [{file, origin, sha256}], settled {key: {value, why}}, open [key].
    """
    told = {
        "files": [{"file": name, "origin": origin, "sha256": digest} for name, origin, digest in begun.files],
        "settled": {key: one._asdict() for key, one in begun.settled.items()},
        "open": list(begun.open_keys),
    }
    return json.dumps(told, indent=1, ensure_ascii=False)
