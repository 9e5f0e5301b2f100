"""What a plan says beside its tasks."""

from __future__ import annotations

from planner.show.words.causes import all_words
from tests.engine_desk import plan_with, tank_with
from tests.rulecases import rulebook


def test_a_missing_zone_and_a_missing_start_are_said() -> None:
    notices = plan_with(rulebook(), on="2026-03-08", tank=tank_with(timezone=None, start=None)).notices
    assert any("UTC" in n for n in notices) and any("starts on 2026-03-08" in n for n in notices)


def test_an_unreadable_row_is_said() -> None:
    assert any("line 2 cannot be read" in n for n in all_words(plan_with(rulebook(), "!2026-03-04,reading,ammonia,zero,mg/L,display,", on="2026-03-08", problems=1).notices, "metric"))
