"""Shared switches of the test tiers."""

from __future__ import annotations

import gc
import json
import os
from collections import OrderedDict
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from typing import Any

import pytest
from hypothesis import settings

from planner.rulebook.shipped_cache import load_shipped_rules
from tests.plans_once import plans_made_once

# The same examples on every machine, so that a red run means a change; --hypothesis-profile=default looks for new ones.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--accept", action="store_true", help="rewrite the scenarios' expected files for review")
    parser.addoption("--slow", action="store_true", help="run the slow tiers too")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """What is long is run where it is asked for by name, what is slow also with --slow."""
    named = config.getoption("-m") or ""
    left_out = [item for item in items if "long" in item.keywords and "long" not in named
                or "slow" in item.keywords and not (config.getoption("--slow") or "slow" in named or "long" in named)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]


def pytest_collection_finish() -> None:
    """What was read and collected stays to the end: no use in looking through it for garbage again and again. Plans and their pages
    leave little of it, and looking as often as usual took a quarter of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.fixture(scope="session", autouse=True)
def results_kept_elsewhere(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Commands under test keep their results in a folder of their own, and never see those of the user."""
    os.environ["XDG_CACHE_HOME"] = str(tmp_path_factory.mktemp("cache"))


@pytest.fixture(scope="session", autouse=True)
def shipped_rules_read_once() -> Iterator[None]:
    """Commands under test share one reading of the shipped rules. That each reads the same is held in tests/unit/rulebook."""
    once = cache(load_shipped_rules)
    with pytest.MonkeyPatch.context() as patched:
        for user in ("planner.door.folder", "planner.rulebook.house.overlay", "planner.cli.mix_options", "planner.cli.rules"):
            patched.setattr(f"{user}.load_shipped_rules", once)
        yield


@pytest.fixture(scope="session", autouse=True)
def nobody_waits_for_the_disk() -> Iterator[None]:
    """Writers under test ask for their bytes to be on the disk, which no test can see; that they ask is held where it is watched."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("os.fsync", lambda _: None)
        yield


@pytest.fixture(scope="session", autouse=True)
def equal_papers_set_once() -> Iterator[None]:
    """Equal data is one printed plan. That it is the same bytes each time is held in tests/truth, by processes of their own."""
    from planner.show.paper import handout

    setter, papers = handout._set, OrderedDict[bytes, Any]()

    def once(data: Any, pictures: dict[str, bytes], stamp: object) -> Any:
        key = sha256(repr((json.dumps(data), sorted(pictures.items()), stamp)).encode("utf-8", "surrogatepass")).digest()
        if key not in papers:
            papers[key] = setter(data, pictures, stamp)  # type: ignore[arg-type]
            while len(papers) > 40:
                papers.popitem(last=False)
        return papers[key]

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(handout, "_set", once)
        yield


@pytest.fixture(scope="session", autouse=True)
def equal_plans_made_once() -> Iterator[None]:
    """Commands and pages under test share the plans of equal inputs."""
    with plans_made_once():
        yield
