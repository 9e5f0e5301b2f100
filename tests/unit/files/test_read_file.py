"""A keeper's file is a plain file of a size that can be worked with; anything else in its place is told, and never taken
for an empty history."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from planner.files.journal_file import read_journal_file
from planner.files.read_file import DESCRIPTION_MOST_BYTES, FileRefused, is_utf16, read_plain_file

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pipes and devices of this kind are not on Windows")


def put_pipe(path: Path) -> None:
    os.mkfifo(path)


def put_loop(path: Path) -> None:
    path.symlink_to(path.name)


def put_dangling(path: Path) -> None:
    path.symlink_to("another-disk.csv")


def put_device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def put_folder(path: Path) -> None:
    path.mkdir()


def put_socket(path: Path) -> None:
    here = Path.cwd()
    os.chdir(path.parent)  # an address of this kind may be no longer than about a hundred characters
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(path.name)
    finally:
        os.chdir(here)


ODD = {put_pipe: "a pipe", put_loop: "leads back to itself", put_dangling: "'another-disk.csv', where there is nothing", put_device: "a device", put_folder: "a folder", put_socket: "a socket"}


@pytest.mark.parametrize("put", ODD, ids=lambda put: put.__name__)
def test_what_is_no_file_is_named_for_what_it_is(put, tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    put(path)
    with pytest.raises(FileRefused) as refused:
        read_journal_file(path)
    assert (refused.value.code, ODD[put] in refused.value.message) == ("not-a-file", True)
    assert refused.value.fix


def test_only_a_name_that_nothing_bears_is_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_plain_file(tmp_path / "journal.csv")


def test_a_link_to_a_file_is_read(tmp_path: Path) -> None:
    (tmp_path / "elsewhere.csv").write_bytes(b"when")
    (tmp_path / "journal.csv").symlink_to("elsewhere.csv")
    assert read_plain_file(tmp_path / "journal.csv") == b"when"


def test_a_file_of_the_largest_size_is_read_and_one_byte_more_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "tank.yaml"
    path.write_bytes(b"#" * DESCRIPTION_MOST_BYTES)
    assert len(read_plain_file(path)) == DESCRIPTION_MOST_BYTES
    path.write_bytes(b"#" * (DESCRIPTION_MOST_BYTES + 1))
    with pytest.raises(FileRefused) as refused:
        read_plain_file(path)
    assert refused.value.code == "file-too-large"


@pytest.mark.parametrize(("data", "two_bytes"), [
    ("name: reef".encode("utf-16"), True), ("name: reef".encode("utf-16-le"), True), ("name: reef".encode("utf-16-be"), True), (b"\xfe\xff", True),
    (b"a\0", True), (b"\0a", True), (b"name: reef", False), ("\ufeffname".encode(), False), ("ä".encode(), False), (b"ab", False), (b"\0\0", False), (b"\0\0name", False), (b"n", False), (b"\0", False), (b"", False),
], ids=repr)
def test_text_of_two_bytes_a_letter_is_known_by_its_mark_or_its_first_letter(data: bytes, two_bytes: bool) -> None:
    """The marks and orders are those of The Unicode Standard, 23.8, as the standard library writes them."""
    assert is_utf16(data) is two_bytes
