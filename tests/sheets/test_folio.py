"""A plan folder is whole or not there, whatever happens to the run that writes it."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import textwrap
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from siteplan.errors import InputError
from siteplan.sheets import writing
from siteplan.sheets.folio import check_folio, write_folio

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def _quick_disk(monkeypatch):
    monkeypatch.setattr(os, "fsync", lambda _: None)


def folder(word):
    """A plan folder's contents that tell which run wrote them."""
    return {
        "plan.json": json.dumps({"format": "siteplan-plan", "by": word}).encode(),
        "map.html": word.encode() * 500,
        "trench_schedule.csv": word.encode(),
    }


def held(out):
    return {entry.name: entry.read_bytes() for entry in out.iterdir()}


def test_a_new_folder_holds_exactly_what_was_given(tmp_path):
    write_folio(tmp_path / "plan", folder("one"))
    assert held(tmp_path / "plan") == folder("one")
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize("exchange", [True, False])
def test_an_earlier_plan_is_replaced_whole(tmp_path, monkeypatch, exchange):
    if not exchange:
        monkeypatch.setattr(writing, "_exchange", lambda *_: False)
    write_folio(tmp_path / "plan", folder("one"))
    fewer = {name: content for name, content in folder("two").items() if name != "map.html"}
    write_folio(tmp_path / "plan", fewer)
    assert held(tmp_path / "plan") == fewer
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="one-step exchange of folders is Linux's")
def test_folders_are_exchanged_in_one_step_on_linux(tmp_path):
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        (tmp_path / name / name).touch()
    if not writing._exchange(tmp_path / "a", tmp_path / "b"):
        pytest.skip("this disk cannot exchange two folders")
    assert (tmp_path / "a" / "b").exists()
    assert (tmp_path / "b" / "a").exists()


def test_an_empty_folder_and_what_a_desktop_leaves_in_it_are_no_obstacle(tmp_path):
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / ".DS_Store").touch()
    write_folio(tmp_path / "plan", folder("one"))
    assert (tmp_path / "plan" / ".DS_Store").is_file()  # not ours to delete
    (tmp_path / "plan" / ".DS_Store").unlink()
    assert held(tmp_path / "plan") == folder("one")


def refused(out, call=write_folio):
    with pytest.raises(InputError) as caught:
        call(out, folder("new"))
    return str(caught.value)


def test_a_file_is_refused(tmp_path):
    (tmp_path / "plan").write_text("mine")
    assert "is a file, not a folder. Name another --out" in refused(tmp_path / "plan")
    assert (tmp_path / "plan").read_text() == "mine"


def test_a_folder_of_something_else_is_refused(tmp_path):
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / ".git").mkdir()
    assert "is no plan folder (no plan.json of ours)" in refused(tmp_path / "plan")
    (tmp_path / "plan" / "plan.json").write_text('{"format": "something else"}')
    assert "is no plan folder" in refused(tmp_path / "plan")
    (tmp_path / "plan" / "plan.json").write_text("[" * 100_000)
    assert "is no plan folder" in refused(tmp_path / "plan")
    assert (tmp_path / "plan" / ".git").exists()


def test_a_users_own_file_beside_the_plan_is_not_lost(tmp_path):
    write_folio(tmp_path / "plan", folder("one"))
    (tmp_path / "plan" / "photo.jpg").write_bytes(b"mine")
    assert "holds photo.jpg, which siteplan did not write and would lose. Move it out" in refused(tmp_path / "plan")
    assert (tmp_path / "plan" / "photo.jpg").read_bytes() == b"mine"


def test_a_missing_parent_is_refused(tmp_path):
    assert "does not exist. Create it, or name another --out" in refused(tmp_path / "no" / "plan")
    (tmp_path / "file").touch()
    assert "is not a folder" in refused(tmp_path / "file" / "plan")
    assert not (tmp_path / "no").exists()


def test_the_root_of_a_disk_is_refused():
    assert "is the root of a disk" in refused(Path("/"))


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write anywhere")
def test_a_parent_that_cannot_be_written_to_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    try:
        assert "cannot be written to" in refused(tmp_path / "plan")
    finally:
        tmp_path.chmod(0o700)


def test_early_check_says_the_same_and_writes_nothing(tmp_path):
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "letter.txt").touch()
    assert "is no plan folder" in refused(tmp_path / "plan", check_folio)
    check_folio(tmp_path / "fresh")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["plan"]


@pytest.mark.parametrize("name", ["../x", "a/b", "", "..", "c:x", "a\\b"])
def test_a_name_is_never_a_path(tmp_path, name):
    with pytest.raises(ValueError, match="no plain file name"):
        write_folio(tmp_path / "plan", {name: b""})
    assert not list(tmp_path.iterdir())


def test_a_link_stays_and_what_it_points_to_is_replaced(tmp_path):
    write_folio(tmp_path / "real", folder("one"))
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_folio(tmp_path / "link", folder("two"))
    assert (tmp_path / "link").is_symlink()
    assert held(tmp_path / "real") == folder("two")


def test_a_full_disk_leaves_the_earlier_plan_and_says_so_in_one_line(tmp_path, monkeypatch):
    write_folio(tmp_path / "plan", folder("one"))

    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", full)
    assert "could not be written (No space left on device). Make room" in refused(tmp_path / "plan")
    assert held(tmp_path / "plan") == folder("one")
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


def test_a_rename_that_fails_half_way_puts_the_earlier_plan_back(tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "_exchange", lambda *_: False)
    write_folio(tmp_path / "plan", folder("one"))
    real = os.rename

    def once(source, target, **more):
        if Path(source).name.endswith("-new"):
            raise PermissionError(errno.EACCES, "Permission denied")
        real(source, target, **more)

    monkeypatch.setattr(os, "rename", once)
    assert "Permission denied" in refused(tmp_path / "plan")
    assert held(tmp_path / "plan") == folder("one")
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


def test_two_runs_at_once_leave_one_whole_plan(tmp_path):
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: write_folio(tmp_path / "plan", folder(f"run{n}")), range(12)))
    wrote = json.loads((tmp_path / "plan" / "plan.json").read_bytes())["by"]
    assert held(tmp_path / "plan") == folder(wrote)
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize("works", [True, False])
def test_the_next_run_mends_what_a_kill_between_two_renames_left(tmp_path, monkeypatch, works):
    write_folio(tmp_path / ".plan.siteplan-old", folder("old"))
    (tmp_path / ".plan.siteplan-new").mkdir()
    (tmp_path / ".plan.siteplan-new" / "map.html").write_bytes(b"half")
    if works:
        write_folio(tmp_path / "plan", folder("new"))
    else:
        monkeypatch.setattr(
            writing, "_fill", lambda *_: (_ for _ in ()).throw(OSError(errno.ENOSPC, "No space left on device"))
        )
        assert "No space left on device" in refused(tmp_path / "plan")
    assert held(tmp_path / "plan") == folder("new" if works else "old")
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan"]


KILLED = textwrap.dedent(
    """
    import builtins, json, os, pathlib, signal, sys
    from siteplan.sheets import writing
    from siteplan.sheets.folio import write_folio
    out, step, swap = pathlib.Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    done = 0
    def deadly(call):
        def wrapped(*given, **more):
            global done
            if done == step:
                os.kill(os.getpid(), signal.SIGKILL)
            done += 1
            return call(*given, **more)
        return wrapped
    os.fsync = lambda handle: None  # a kill is no power cut: the step counts, the disk's time does not
    for name in ("fsync", "mkdir", "rename", "unlink", "rmdir"):
        setattr(os, name, deadly(getattr(os, name)))
    writing._exchange = deadly(writing._exchange) if swap == "exchange" else (lambda *_: False)
    new = json.loads(sys.argv[4])
    write_folio(out, {name: content.encode() for name, content in new.items()})
    print(done)
    """
)


def run_killed(out, step, swap):
    new = {name: content.decode() for name, content in folder("new").items()}
    return subprocess.run(
        [sys.executable, "-c", KILLED, str(out), str(step), swap, json.dumps(new)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is POSIX's")
@pytest.mark.parametrize("swap", ["exchange", "rename"])
@pytest.mark.parametrize("before", ["old", None])
def test_kill_nine_at_any_step_leaves_old_or_new_whole(tmp_path, swap, before):
    steps = None
    for step in range(60):
        out = tmp_path / f"step{step}" / "plan"
        out.parent.mkdir()
        if before:
            write_folio(out, folder("old"))
        ran = run_killed(out, step, swap)
        if ran.returncode == 0:
            steps = step
            break
        assert ran.returncode == -9, ran.stderr
        if swap == "exchange" and before:
            assert held(out) in (folder("old"), folder("new")), step
        check_folio(out)  # the next run's first act
        if before:
            assert held(out) in (folder("old"), folder("new")), step
        else:
            assert not out.exists() or held(out) == folder("new"), step
        assert [entry.name for entry in out.parent.iterdir()] == (["plan"] if out.exists() else [])
        write_folio(out, folder("next"))
        assert held(out) == folder("next")
    assert steps is not None
    assert steps >= 7  # a folder, three files, the folder's entries, the swap, the parent's entries
