"""The reading that lies nearest to a row is found without looking through all of them."""

from __future__ import annotations

import random
from datetime import date, timedelta

from planner.judge.facts import beside
from tests.engine_desk import facts_of


def test_it_is_the_one_that_a_search_through_all_rows_finds() -> None:
    """Against a plain search over every row, with gaps of days to years, dates without an hour, two waters and ties."""
    luck = random.Random(7)
    for _ in range(40):
        day, rows = date(2020, 1, 1), []
        for _ in range(luck.randrange(1, 25)):
            day += timedelta(days=luck.choice((0, 0, 1, 2, 5, 30, 400)))
            when = f"{day} {luck.randrange(24):02d}:00" if luck.random() < 0.6 else f"{day}"
            rows.append(f"{when},reading,{luck.choice(('salinity', 'calcium'))},{luck.randrange(30, 40)},,{luck.choice(('display', 'display', 'mixing'))}")
        rows = [r.replace(",,", ",ppt,") if "salinity" in r else r.replace(",,", ",mg/L,") for r in rows]
        facts = facts_of(*rows, on=str(day))
        salinities = facts.rows("reading", "salinity")
        for row in facts.rows("reading", "calcium"):
            of_all = min((r for r in reversed(salinities) if r.where == row.where), key=lambda r: max(0.0, r.earliest - row.latest, row.earliest - r.latest), default=None)  # noqa: B023
            assert beside(row, "salinity", facts) is of_all
