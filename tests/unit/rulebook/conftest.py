"""The rule files that a test leaves as they are need not be read anew for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from planner.files import yaml_checked, yaml_tree


@pytest.fixture(scope="package", autouse=True)
def equal_files_read_once() -> Iterator[None]:
    """What is read and checked of equal texts under equal names. The records are frozen, and nobody writes to the data."""
    read, check = yaml_tree.read_yaml, yaml_checked.validate
    trees: dict[tuple[object, ...], Any] = {}
    records: dict[tuple[object, ...], Any] = {}

    def read_once(text: str | bytes, file: str) -> Any:
        if (text, file) not in trees:
            trees[text, file] = read(text, file)
        return trees[text, file]

    def checked_once(model: Any, data: Any, places: Any, lines: list[str]) -> Any:
        key = model, id(data)
        if key not in records:
            records[key] = data, check(model, data, places, lines)  # the data is held, so that its id stays its own
        return records[key][1]

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(yaml_tree, "read_yaml", read_once)
        patched.setattr(yaml_checked, "validate", checked_once)
        yield
