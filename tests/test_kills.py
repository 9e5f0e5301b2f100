"""Writers killed at any byte lose nothing that they acknowledged, and leave nothing torn and nothing about."""

from __future__ import annotations

import os

import pytest

from tests.kills import WRITERS, Writer, kill_writer

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked")]


@pytest.mark.parametrize("kind", WRITERS, ids=lambda kind: kind.name)
def test_a_writer_that_is_killed_loses_nothing_and_leaves_nothing_about(kind: type[Writer]) -> None:
    told = kill_writer(kind, 60, seed=1)
    assert told["killed"] > 20
    assert told["wrong"] == {}
