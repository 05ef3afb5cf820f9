"""What `siteplan new` put forward and nobody has confirmed in.

Lot and house as the page may draw them, each a question, out.
"""

from __future__ import annotations

from typing import Any

from siteplan.begin.new_site import PROPOSED_FILE
from siteplan.errors import SiteplanError
from siteplan.table.checked import told_feature
from siteplan.table.folder_state import FolderState, held_file, known_kind, named_files, site_system


def proposed_told(state: FolderState) -> list[dict[str, Any]]:
    """Outlines by corners that the crew named, on the paper.

    Parameters
    ----------
    state : FolderState
        The folder.

    Returns
    -------
    list of dict
        properties, shape and xy of each; none where the file is not there, is named already, or its kinds are drawn.
    """
    path = state.folder / PROPOSED_FILE
    if PROPOSED_FILE in named_files(state.settings) or not path.is_file():
        return []
    try:
        held, _ = held_file(path, PROPOSED_FILE, state.paper, site_system(state.settings, []))
    except SiteplanError:
        return []
    drawn = {known_kind(item.value) for file in state.files if file.drawn is not None for item in file.drawn.items}
    items = () if held.drawn is None else held.drawn.items
    told = [told_feature("", held, item.value) for item in items if known_kind(item.value) not in drawn]
    return [{key: one[key] for key in ("properties", "shape", "xy")} for one in told if not one["locked"]]
