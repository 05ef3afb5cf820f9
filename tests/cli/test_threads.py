"""The program's arithmetic runs in one thread, however many cores there are."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

COUNT = """
import os, sys
if sys.argv[1] == "ours":
    from siteplan.cli.main import main
    assert main(["--version"]) == 0
import numpy as np
square = np.eye(600) + 0.1
square @ square, np.linalg.cholesky(square)
print(len(os.listdir("/proc/self/task")))
"""


def threads(whose):
    plain = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    done = subprocess.run([sys.executable, "-c", COUNT, whose], capture_output=True, text=True, check=True, env=plain)
    return int(done.stdout.split()[-1])


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="threads are counted where Linux lists them")
def test_one_thread():
    if threads("bare") == 1:
        pytest.skip("one core, or a numpy that never takes more")
    assert threads("ours") == 1
