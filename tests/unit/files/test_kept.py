"""What is kept is believed only where all that it was made from is the same, to the byte."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import planner.files.kept as room
from planner.files.kept import Kept, Maker, build_of, sweep_oldest

INPUTS = (1.5, "dosed", (0.25, 0.5))
DATA = {"days": [1, 2, 3], "curve": [0.1, 1 / 3, 2e-17], "done": None}


class Place:
    """A place and one maker of results, as a process of its own would meet them."""

    def __init__(self, tmp_path: Path, code: Path | None = None, library: str = "numpy", setting: str = "threads=1") -> None:
        model = tmp_path / "model.py"
        if not model.exists():
            model.write_text("STEP = 1\n")
        self.kept, self.maker = Kept(tmp_path / "cache" / "deep", [setting]), Maker([code or model], [library])

    def keep(self, kind: str, inputs: object, data: object) -> None:
        self.kept.keep(kind, self.maker, inputs, data)

    def find(self, kind: str, inputs: object) -> object:
        return self.kept.find(kind, self.maker, inputs)


def only_file(tmp_path: Path) -> Path:
    (file,) = (tmp_path / "cache" / "deep").iterdir()
    return file


def test_what_was_kept_is_found_to_the_last_bit(tmp_path: Path) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    assert Place(tmp_path).find("forecast", INPUTS) == DATA


def test_another_input_is_another_result(tmp_path: Path) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    assert Place(tmp_path).find("forecast", (1.5000000000000002, *INPUTS[1:])) is None


def test_another_kind_of_result_is_not_taken_for_this_one(tmp_path: Path) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    assert Place(tmp_path).find("belief", INPUTS) is None


def test_one_byte_of_code_makes_it_another_result(tmp_path: Path) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    (tmp_path / "model.py").write_text("STEP = 2\n")
    assert Place(tmp_path).find("forecast", INPUTS) is None


def test_code_written_after_it_was_loaded_keeps_nothing(tmp_path: Path) -> None:
    place = Place(tmp_path)
    place.find("forecast", INPUTS)
    (tmp_path / "model.py").write_text("STEP = 2\n")
    place.keep("forecast", INPUTS, DATA)
    assert not (tmp_path / "cache").exists()


def test_code_that_cannot_be_read_keeps_nothing(tmp_path: Path) -> None:
    place = Place(tmp_path, code=tmp_path / "not-there.py")
    place.keep("forecast", INPUTS, DATA)
    assert place.find("forecast", INPUTS) is None
    assert not (tmp_path / "cache").exists()


def test_another_version_of_a_library_makes_it_another_result(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    library = tmp_path / "bench_library"
    library.mkdir()
    (library / "__init__.py").write_text("")
    (library / "version.py").write_text('version = "2.1.0"\n')
    monkeypatch.syspath_prepend(tmp_path)
    Place(tmp_path, library="bench_library").keep("forecast", INPUTS, DATA)
    (library / "version.py").write_text('version = "2.1.1"\n')
    assert Place(tmp_path, library="bench_library").find("forecast", INPUTS) is None


def test_the_version_of_numpy_is_told_without_loading_it() -> None:
    import numpy

    assert numpy.__version__ in build_of("numpy")


@pytest.mark.parametrize("what", ["version", "processor"])
def test_another_python_or_processor_makes_it_another_result(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    if what == "version":
        monkeypatch.setattr(room.sys, "version", "3.99.0")
    else:
        monkeypatch.setattr(room, "processor", lambda: "another model")
    assert Place(tmp_path).find("forecast", INPUTS) is None


def test_another_setting_of_the_linear_algebra_makes_it_another_result(tmp_path: Path) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    assert Place(tmp_path, setting="threads=2").find("forecast", INPUTS) is None


def test_a_file_cut_short_anywhere_is_not_believed(tmp_path: Path) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    file = only_file(tmp_path)
    whole = file.read_bytes()
    for length in range(len(whole)):
        file.write_bytes(whole[:length])
        assert Place(tmp_path).find("forecast", INPUTS) is None, length


def test_a_file_with_any_byte_flipped_is_not_believed(tmp_path: Path) -> None:
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    file, place = only_file(tmp_path), Place(tmp_path)
    whole = file.read_bytes()
    for at in range(len(whole)):
        file.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert place.find("forecast", INPUTS) is None, at


def test_the_file_of_another_address_under_this_name_is_not_believed(tmp_path: Path) -> None:
    place = Place(tmp_path)
    place.keep("forecast", "other", {"days": [9]})
    other = only_file(tmp_path).read_bytes()
    only_file(tmp_path).unlink()
    place.keep("forecast", INPUTS, DATA)
    only_file(tmp_path).write_bytes(other)
    assert place.find("forecast", INPUTS) is None


def test_a_folder_that_cannot_be_made_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("a file stands where the folder should be")
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    assert Place(tmp_path).find("forecast", INPUTS) is None


def test_a_full_disk_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> bool:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(room, "put_whole_file", full)
    Place(tmp_path).keep("forecast", INPUTS, DATA)
    assert Place(tmp_path).find("forecast", INPUTS) is None


def test_the_oldest_files_go_once_there_are_too_many(tmp_path: Path) -> None:
    for age in range(10):
        file = tmp_path / f"forecast-{age}"
        file.write_bytes(b"x" * 100)
        os.utime(file, (1000 - age, 1000 - age))
    sweep_oldest(tmp_path, 1000)
    assert len(list(tmp_path.iterdir())) == 10
    sweep_oldest(tmp_path, 999)
    assert sorted(f.name for f in tmp_path.iterdir()) == [f"forecast-{age}" for age in range(4)]


def test_keeping_sweeps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room.sweep_oldest, "__defaults__", (1000,))
    for n in range(50):
        Place(tmp_path).keep("forecast", n, DATA)
    assert sum(f.stat().st_size for f in (tmp_path / "cache" / "deep").iterdir()) <= 1000
