"""One writer for everything.

A plain file or a folder of ours, whole or not at all, and nothing of anybody else is lost.
"""

from __future__ import annotations

import os
import signal
import socket
import stat
import sys
from pathlib import Path

import pytest

from siteplan.errors import InputError
from siteplan.laid.record_folder import write_record
from siteplan.sheets import writing
from siteplan.sheets.folio import check_folio
from siteplan.sheets.paper import page
from siteplan.sheets.writing import write_file


def record(word):
    return {"record.gpkg": word.encode(), "record.html": page(word), "owner.html": page(f"owner {word}")}


def held(folder):
    return {entry.name: entry.read_bytes() for entry in folder.iterdir()}


def fifo(path):
    os.mkfifo(path)


def folder(path):
    path.mkdir()


def dangling(path):
    path.symlink_to(path.with_name("nowhere"))


def loop(path):
    path.symlink_to(path)


def to_null(path):
    path.symlink_to("/dev/null")


def to_folder(path):
    path.with_name("inner").mkdir()
    path.symlink_to(path.with_name("inner"))


def plug(path):
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(path))


def read_only(path):
    path.write_bytes(b"mine")
    path.chmod(0o444)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX's own kinds of file")
@pytest.mark.parametrize(
    "made", [fifo, folder, dangling, loop, to_null, to_folder, plug, read_only], ids=lambda one: one.__name__
)
def test_what_is_no_plain_file_is_refused_and_stays(tmp_path, made, monkeypatch):
    monkeypatch.chdir(tmp_path)  # a socket's name is short
    at = Path("page.html")
    made(at)
    before = at.lstat()
    with pytest.raises(InputError) as caught:
        write_file(at, b"new")
    assert len(str(caught.value).splitlines()) == 1
    after = at.lstat()
    assert (stat.S_IFMT(after.st_mode), after.st_ino, after.st_size) == (
        stat.S_IFMT(before.st_mode),
        before.st_ino,
        before.st_size,
    )
    assert not [entry for entry in tmp_path.iterdir() if "siteplan" in entry.name]


@pytest.mark.skipif(not Path("/dev/null").is_char_device(), reason="no such device here")
def test_a_device_is_never_replaced():
    with pytest.raises(InputError, match="a device, not a plain file"):
        write_file(Path("/dev/null"), b"new")
    assert Path("/dev/null").is_char_device()


@pytest.mark.parametrize("name", ["", ".", "..", "x" * 300, "a\0b", "none/there.html", "file/inside.html"])
def test_a_name_that_is_none_is_one_message(tmp_path, name):
    (tmp_path / "file").write_bytes(b"mine")
    with pytest.raises(InputError):
        write_file(tmp_path / name if name else Path(), b"new")
    assert held(tmp_path) == {"file": b"mine"}


def test_a_file_is_replaced_whole_and_keeps_its_permissions(tmp_path):
    (tmp_path / "page.html").write_bytes(b"old and longer")
    (tmp_path / "page.html").chmod(0o640)
    write_file(tmp_path / "page.html", b"new")
    assert held(tmp_path) == {"page.html": b"new"}
    assert stat.S_IMODE((tmp_path / "page.html").stat().st_mode) == 0o640


def test_a_file_is_put_in_place_and_never_written_over(tmp_path):
    """Whoever has the old file by another name keeps it whole: nothing is written into it."""
    (tmp_path / "page.html").write_bytes(b"old")
    (tmp_path / "kept.html").hardlink_to(tmp_path / "page.html")
    write_file(tmp_path / "page.html", b"new")
    assert held(tmp_path) == {"page.html": b"new", "kept.html": b"old"}


def test_a_link_to_a_file_stays_a_link(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "page.html").write_bytes(b"old")
    (tmp_path / "page.html").symlink_to(tmp_path / "real" / "page.html")
    write_file(tmp_path / "page.html", b"new")
    assert (tmp_path / "page.html").is_symlink()
    assert held(tmp_path / "real") == {"page.html": b"new"}


@pytest.mark.parametrize("name", [".git", ".hidden", "notes.txt", "record.gpkg-wal"])
def test_nothing_that_is_not_ours_is_lost_from_a_record(tmp_path, name):
    out = tmp_path / "record"
    write_record(out, record("one"))
    if name == ".git":
        (out / name).mkdir()
        (out / name / "HEAD").write_bytes(b"mine")
    else:
        (out / name).write_bytes(b"mine")
    with pytest.raises(InputError, match=name):
        write_record(out, record("two"))
    assert (out / "record.gpkg").read_bytes() == b"one"
    assert (out / name / "HEAD" if name == ".git" else out / name).read_bytes() == b"mine"


def test_a_folder_with_files_of_our_names_that_we_did_not_write_is_refused(tmp_path):
    out = tmp_path / "record"
    out.mkdir()
    (out / "owner.html").write_bytes(b"mine")
    with pytest.raises(InputError, match="is no record folder"):
        write_record(out, record("two"))
    (out / "record.html").write_bytes(b"mine too")
    with pytest.raises(InputError, match="is no record folder"):
        write_record(out, record("two"))
    assert held(out) == {"owner.html": b"mine", "record.html": b"mine too"}


def test_an_earlier_record_without_a_mark_is_kept_and_the_message_says_how_to_go_on(tmp_path):
    out = tmp_path / "record"
    out.mkdir()
    (out / "record.html").write_text("<html>a record of last year</html>")
    (out / "record.gpkg").write_bytes(b"old")
    with pytest.raises(InputError, match="move that folder aside to keep it"):
        write_record(out, record("new"))
    assert held(out) == {"record.html": b"<html>a record of last year</html>", "record.gpkg": b"old"}
    out.rename(tmp_path / "record of last year")
    write_record(out, record("new"))
    assert held(out) == record("new")


def test_a_folder_under_one_of_our_names_is_refused(tmp_path):
    out = tmp_path / "record"
    write_record(out, record("one"))
    (out / "owner.html").unlink()
    (out / "owner.html").mkdir()
    (out / "owner.html" / "mine").write_bytes(b"mine")
    with pytest.raises(InputError, match=r"owner\.html"):
        write_record(out, record("two"))
    assert (out / "owner.html" / "mine").read_bytes() == b"mine"


def test_a_link_as_folder_stays_and_works_again_and_again(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "record").symlink_to(tmp_path / "real")
    for word in ("one", "two", "three"):
        write_record(tmp_path / "record", record(word))
        assert (tmp_path / "record").is_symlink()
        assert held(tmp_path / "real") == record(word)
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["real", "record"]


def killed(work, step, swap):
    """Do the work in a process that is killed at its step-th call of the disk; whether it was."""
    child = os.fork()
    if child == 0:
        done = iter(range(step))

        def deadly(call):
            def wrapped(*given, **more):
                if next(done, None) is None:
                    os.kill(os.getpid(), signal.SIGKILL)
                return call(*given, **more)

            return wrapped

        os.fsync = lambda _: None  # a kill is no power cut
        for name in ("fsync", "mkdir", "rename", "replace", "unlink", "rmdir"):
            setattr(os, name, deadly(getattr(os, name)))
        writing._exchange = deadly(writing._exchange) if swap == "exchange" else lambda *_: False
        try:
            work()
        finally:
            os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is POSIX's")
@pytest.mark.parametrize("swap", ["exchange", "rename"])
def test_two_kills_in_a_row_leave_the_earlier_record(tmp_path, swap):
    """The second run is killed at every step of mending what the first kill left."""
    for step in range(40):
        dry = tmp_path / f"dry{step}" / "record"
        dry.parent.mkdir()
        write_record(dry, record("old"))
        if not killed(lambda dry=dry: write_record(dry, record("new")), step, swap):
            break
    assert 6 <= step < 39
    steps = step
    for first in range(3, steps + 3):
        for second in (0, 1, 2, first):
            out = tmp_path / f"k{first}-{second}" / "record"
            out.parent.mkdir()
            write_record(out, record("old"))
            for step in (first, second):
                killed(lambda out=out: write_record(out, record("new")), step, swap)
            left = [held(one) for one in out.parent.iterdir()]
            assert record("old") in left or record("new") in left, (first, second)
            write_record(out, record("next"))
            assert held(out) == record("next")
            assert [entry.name for entry in out.parent.iterdir()] == ["record"]


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is POSIX's")
def test_a_kill_leaves_a_file_old_or_new(tmp_path):
    for step in range(10):
        at = tmp_path / f"step{step}" / "page.html"
        at.parent.mkdir()
        at.write_bytes(b"old")
        dead = killed(lambda at=at: write_file(at, b"new"), step, "exchange")
        assert at.read_bytes() in {b"old", b"new"}
        write_file(at, b"next")
        assert held(at.parent) == {"page.html": b"next"}
        if not dead:
            break
    assert step >= 2


def test_what_stands_in_the_way_is_said_once(tmp_path):
    """It was said as a refusal of the disk round the refusal itself, with two mends and an end like '.).'."""
    taken = tmp_path / "afile"
    taken.write_text("mine")
    with pytest.raises(InputError) as refused:
        check_folio(taken)
    assert str(refused.value) == f"{taken}: is a file, not a folder. Name another --out, or move the file away."
    with pytest.raises(InputError) as refused:
        write_file(tmp_path, b"")
    assert str(refused.value) == f"{tmp_path}: is a folder, not a plain file. Name another place for it."
