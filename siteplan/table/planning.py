"""A site folder in; its plan made by a process of its own, with how far it has come, stopped when asked.

What it says, out.

The plan is what `siteplan plan` makes of the same folder, to the byte: the page adds nothing and leaves nothing out.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import siteplan
from siteplan.errors import InputError

_WAIT = 5.0  # s for a process to end before it is killed


class Planning:
    """One plan at a time of one site.

    Parameters
    ----------
    site, out : Path
        The site folder, and the plan folder that is written.
    """

    def __init__(self, site: Path, out: Path) -> None:
        self._site, self.out = site, out
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._told: dict[str, Any] = {"state": "none", "share": 0.0, "version": 0, "summary": "", "faults": []}

    def told(self) -> dict[str, Any]:
        """How the plan stands.

        Returns
        -------
        dict
            state: none, running, done, failed or stopped; share of the work, the document's version, summary, faults.
        """
        with self._lock:
            return dict(self._told)

    @property
    def running(self) -> bool:
        """Whether a plan is being made."""
        return bool(self.told()["state"] == "running")

    def start(self, version: int) -> bool:
        """Begin, unless one is being made.

        Parameters
        ----------
        version : int
            Of the document that is planned.

        Returns
        -------
        bool
            False where one is running already.
        """
        with self._lock:
            if self._told["state"] == "running":
                return False
            home = str(Path(siteplan.__file__).parents[1])
            paths = [home, *filter(None, [os.environ.get("PYTHONPATH")])]
            self._process = subprocess.Popen(  # noqa: S603 -- our own module, paths as arguments
                [sys.executable, "-m", "siteplan.table.child", str(self._site), str(self.out)],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
            )
            self._told = {"state": "running", "share": 0.0, "version": version, "summary": "", "faults": []}
            threading.Thread(target=self._listen, args=(self._process,), daemon=True).start()
            return True

    def stop(self) -> None:
        """Stop the plan that is being made; an earlier one stays."""
        with self._lock:
            process = self._process
            if process is None or self._told["state"] != "running":
                return
            self._told["state"] = "stopped"
        process.terminate()
        try:
            process.wait(_WAIT)
        except subprocess.TimeoutExpired:
            process.kill()

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        assert process.stdout is not None
        last: dict[str, Any] = {}
        for line in process.stdout:
            try:
                last = json.loads(line)
            except ValueError:
                continue
            with self._lock:
                if "share" in last:
                    self._told["share"] = last["share"]
        process.wait()
        with self._lock:
            if self._told["state"] != "running" or process is not self._process:
                return
            if "summary" in last:
                self._told |= {"state": "done", "share": 1.0, "summary": last["summary"]}
            else:
                fault = {"where": "plan", "what": "ended by a fault of ours", "mend": "siteplan plan --debug tells it."}
                self._told |= {"state": "failed", "faults": last.get("faults", [fault])}


def written_plan(out: Path) -> dict[str, Any]:
    """The plan.json of a folder.

    Parameters
    ----------
    out : Path
        The plan folder.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        Where there is none.
    """
    try:
        found = json.loads((out / "plan.json").read_bytes())
    except (OSError, ValueError, RecursionError) as error:
        raise InputError(str(out), "holds no plan", "Press Plan.") from error
    if not isinstance(found, dict):
        raise InputError(str(out), "holds no plan", "Press Plan.")
    return found
