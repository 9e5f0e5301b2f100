"""The phone with which most files here begin."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.unit.serve.site import Phone, copy_of, phone_for


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    """Paired with a tank in its cycle, on a day on which nothing is written yet."""
    return phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-02-13"), date(2026, 2, 13)).pair()
