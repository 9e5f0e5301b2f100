"""What house rules cost: laying the example folder over the shipped rules, a hundred pieces, the check with its cases, and
the schemas for editors; each in CPU time and as a share of its baseline in the same run.

Run: `python -m tests.bench.house_cost`. Best of repeated runs in one process; a bench, never a test.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

from planner.judge.figures import RESTS_ON
from planner.plan.make import make_plan
from planner.plan.rule_cases import cases_below, failed_cases, loosened_cases
from planner.rulebook.house.overlay import load_house
from planner.rulebook.read import load_rules, shipped
from planner.show.json.file_schemas import KINDS, file_schema
from tests.story_facts import story_of

EXAMPLE = shipped("scenarios") / "shop-handover" / "house-rules"


def best_ms(work: Callable[[], object], times: int = 5) -> float:
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append((time.process_time() - start) * 1000)
    return min(spent)


def hundred_pieces(folder: Path) -> None:
    (folder / "setup").mkdir()
    tasks = "".join(f"  - {{id: ours-{n}, title: Ours, anchor: {{phase: site}}, steps: [One., Two.]}}\n" for n in range(50))
    (folder / "setup" / "site.yaml").write_text(f"phase: site\ntasks:\n{tasks}", encoding="utf-8")
    numbers = "".join(f"  ours_{n}: {{value: {n}, unit: d, grade: practice}}\n" for n in range(50))
    (folder / "numbers.yaml").write_text(f"numbers:\n{numbers}", encoding="utf-8")


def main() -> None:
    book, _ = load_rules(shipped("rules"), figures=RESTS_ON)
    base = best_ms(lambda: load_rules(shipped("rules")))
    story = story_of("shop-handover")
    plan = best_ms(lambda: make_plan(story.tank, story.journal, book, date(2026, 5, 9)))
    print(f"baselines: the shipped rules read {base:.1f} ms; a plan of the shop's tank {plan:.1f} ms")
    lay = best_ms(lambda: load_house(EXAMPLE, book))
    print(f"the example laid over: {lay:.1f} ms, {lay / base:.2f} of reading the shipped rules")
    with tempfile.TemporaryDirectory() as name:
        hundred_pieces(Path(name))
        many = best_ms(lambda: load_house(Path(name), book))
        print(f"100 pieces laid over: {many:.1f} ms, {many / base:.2f} of reading the shipped rules")
    merged, _ = load_house(EXAMPLE, book)
    after = best_ms(lambda: make_plan(story.tank, story.journal, merged, date(2026, 5, 9)))
    print(f"a plan with house rules: {after:.1f} ms, {after / plan:.2f} of one without")
    ours, _ = cases_below(shipped("rules"), "rules")
    own, _ = cases_below(EXAMPLE, "house")
    check = best_ms(lambda: (failed_cases(own, merged), loosened_cases(ours, book, merged)), 1)
    print(f"the check, {len(own)} + {len(ours)} cases: {check / 1000:.1f} s, {check / plan:.0f} plans' worth")
    for kind in KINDS:
        print(f"schema of {kind}: {best_ms(lambda kind=kind: file_schema(kind), 3):.0f} ms")  # type: ignore[misc]


if __name__ == "__main__":
    main()
