"""Files are written whole or not at all, and never over another one unasked."""

import os
import stat
import threading
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.files import refuse_existing, write_bytes, write_text


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_text_is_utf8_with_plain_line_ends(tmp_path):
    write_text(tmp_path / "a.txt", "Möwe\nW′\n")
    assert (tmp_path / "a.txt").read_bytes() == "Möwe\nW′\n".encode()
    assert names(tmp_path) == ["a.txt"]


def test_folders_above_are_made(tmp_path):
    write_bytes(tmp_path / "out" / "demo" / "a.bin", b"\x00\xff")
    assert (tmp_path / "out" / "demo" / "a.bin").read_bytes() == b"\x00\xff"


def test_never_overwrites_unasked(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"exists already.*`--overwrite`"):
        write_text(path, "new")
    assert path.read_text(encoding="utf-8") == "mine"
    write_text(path, "new", overwrite=True)
    assert path.read_text(encoding="utf-8") == "new"
    assert names(tmp_path) == ["a.txt"]


def test_bytes_are_not_written_over_unasked_either(tmp_path):
    (tmp_path / "a.bin").write_bytes(b"mine")
    with pytest.raises(InputError, match="exists already"):
        write_bytes(tmp_path / "a.bin", b"new")
    assert (tmp_path / "a.bin").read_bytes() == b"mine"


def test_failure_leaves_the_old_file_and_no_temporary_one(tmp_path, monkeypatch):
    path = tmp_path / "a.txt"
    path.write_text("mine", encoding="utf-8")

    def full_disk(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full_disk)
    with pytest.raises(InputError, match="cannot be written \\(no space left on device\\)"):
        write_text(path, "new", overwrite=True)
    assert path.read_text(encoding="utf-8") == "mine"
    assert names(tmp_path) == ["a.txt"]


def test_interruption_leaves_no_temporary_file(tmp_path, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_text(tmp_path / "a.txt", "new")
    assert names(tmp_path) == []


def test_reader_sees_the_old_or_the_new_file_never_a_part(tmp_path):
    path = tmp_path / "a.txt"
    sizes = (200_000, 400_000)
    write_bytes(path, b"x" * sizes[0])
    seen = set()
    done = threading.Event()

    def read():
        while not done.is_set():
            seen.add(len(path.read_bytes()))

    reader = threading.Thread(target=read)
    reader.start()
    for turn in range(40):
        write_bytes(path, b"y" * sizes[turn % 2], overwrite=True)
    done.set()
    reader.join()
    assert seen <= set(sizes)


def test_folder_in_the_place_of_the_file(tmp_path):
    (tmp_path / "a").mkdir()
    with pytest.raises(InputError, match="there is a folder of this name"):
        write_text(tmp_path / "a", "x", overwrite=True)


@pytest.mark.parametrize("name", ["a/b.txt", "a/b/c.txt"])
def test_file_in_the_place_of_a_folder(tmp_path, monkeypatch, name):
    (tmp_path / "a").write_text("x", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for path in (Path(name), tmp_path / name):
        with pytest.raises(InputError, match="this is a file, not a folder") as caught:
            write_text(path, "x", overwrite=True)
        assert caught.value.file == str(tmp_path / "a" if path.is_absolute() else Path("a"))
    assert (tmp_path / "a").read_text(encoding="utf-8") == "x"


def test_name_that_no_system_takes(tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        write_text(tmp_path / ("a" * 400), "x")


def test_link_keeps_pointing_to_the_file_written(tmp_path):
    (tmp_path / "real.txt").write_text("old", encoding="utf-8")
    (tmp_path / "link.txt").symlink_to(tmp_path / "real.txt")
    write_text(tmp_path / "link.txt", "new", overwrite=True)
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text(encoding="utf-8") == "new"


def test_link_to_nowhere_is_not_written_through_unasked(tmp_path):
    (tmp_path / "link.txt").symlink_to(tmp_path / "elsewhere.txt")
    with pytest.raises(InputError, match="exists already"):
        write_text(tmp_path / "link.txt", "new")


def test_others_may_read_what_the_user_lets_them(tmp_path):
    old_mask = os.umask(0o022)
    try:
        write_text(tmp_path / "a.txt", "x")
    finally:
        os.umask(old_mask)
    assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == 0o644


def test_refusal_before_the_work_names_the_file(tmp_path):
    (tmp_path / "b.csv").write_text("x", encoding="utf-8")
    with pytest.raises(InputError, match=r"b\.csv"):
        refuse_existing([tmp_path / "a.csv", tmp_path / "b.csv"])
    refuse_existing([tmp_path / "a.csv"])
    refuse_existing([tmp_path / "b.csv"], overwrite=True)
