"""Where results are kept: the XDG Base Directory Specification 0.8 for Linux, from memory; the usual places elsewhere."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from planner.cli.kept_place import cache_folder


@pytest.fixture(autouse=True)
def a_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    return tmp_path


def test_the_users_choice_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", "/somewhere/else")
    assert cache_folder() == Path("/somewhere/else")


@pytest.mark.parametrize("named", ["", "relative/path"])
def test_a_choice_that_is_no_absolute_path_counts_as_none(a_home: Path, monkeypatch: pytest.MonkeyPatch, named: str) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", named)
    assert cache_folder() == a_home / ".cache"


def test_other_systems_have_their_own_place(a_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "darwin")
    assert cache_folder() == a_home / "Library" / "Caches"
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", "/local")
    assert cache_folder() == Path("/local")


def test_a_user_without_a_home_keeps_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "home", homeless)
    assert cache_folder() is None
