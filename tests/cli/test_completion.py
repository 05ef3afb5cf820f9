"""Completion scripts: bash is run as a person would press the key; all three hold every option of every command."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from siteplan.cli.completion import every_command
from siteplan.cli.main import COMMANDS, main


@pytest.fixture(scope="module")
def completed(tmp_path_factory):
    """What bash offers after words, run in a folder with two files."""
    if shutil.which("bash") is None:
        pytest.skip("no bash here")
    import contextlib
    import io

    folder = tmp_path_factory.mktemp("completion")
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(["completion", "bash"]) == 0
    (folder / "script").write_text(out.getvalue(), encoding="utf-8")
    (folder / "lot 7.csv").touch()
    (folder / "site").mkdir()

    def offered(*words):
        typed = " ".join(f"'{word}'" for word in ("siteplan", *words))
        text = (
            f"source ./script; COMP_WORDS=({typed}); COMP_CWORD={len(words)}; _siteplan; printf '%s\\n' "
            f'"${{COMPREPLY[@]}}"'
        )
        done = subprocess.run(["bash", "-c", text], cwd=folder, capture_output=True, text=True, check=True)
        assert done.stderr == ""
        return [line for line in done.stdout.splitlines() if line]

    return offered


@pytest.mark.parametrize(
    ("words", "offers"),
    [
        (["che"], ["check"]),
        (["plan", "--wi"], ["--without"]),
        (["plan", "--layouts", ""], list("123456789")),
        (["new", "--order", "n"], ["north-first"]),
        (["new", "--points", "lot"], ["lot 7.csv"]),
        (["check", "si"], ["site"]),
        (["completion", ""], ["bash", "zsh", "fish"]),
        (["plan", "--date", ""], []),
        (["nonsense", "--"], []),
    ],
)
def test_bash_offers(completed, words, offers):
    assert completed(*words) == offers


def test_bash_offers_every_command(completed):
    assert completed("") == [*COMMANDS, "--help", "--version"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_every_option_is_in_the_script(shell, capsys):
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    for command in every_command():
        assert command.name in script
        for word in command.words:
            long = [name for name in word.names if name.startswith("--")]
            assert all((f" -l {name[2:]} " if shell == "fish" else name) in script for name in long)
    assert main(["completion", "dash"]) == 2
