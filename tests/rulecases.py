"""Cases beside the rules: reading them, and judging one. Shared by the case tier and by the nudge test."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from planner.gather import zone_of
from planner.journal import read_journal
from planner.model import Journal, Plan, State
from planner.plan import make_plan
from planner.rulebook import Rulebook
from planner.rulefiles import load_rules, shipped
from planner.tankfile import Tank, read_tank

RULES = shipped("rules")
BASE: dict[str, Any] = {
    "name": "case tank", "start": "2026-03-02", "timezone": "Europe/London",
    "tank": {"length": "100 cm", "width": "50 cm", "height": "50 cm", "glass": "10 mm", "waterline": "3 cm"},
    "rock": {"kind": "dry", "mass": "15 kg"}, "sand": {"kind": "dry", "mass": "15 kg"}, "water": {"source": "ro"},
    "equipment": {"bin": "60 L", "ro_rate": "190 L/day"}, "room": {"temperature": "21 C", "floor": "solid"},
    "test_kits": {"ammonia": {"basis": "N", "step": "0.25"}, "nitrite": {"basis": "N", "step": "0.25"}, "nitrate": {"basis": "ion", "step": "5"}},
}
OPEN = (State.DUE, State.LATE, State.PLANNED, State.WAITING, State.ON_HOLD)


@dataclass(frozen=True, slots=True)
class Case:
    file: str
    title: str
    tank: Tank
    journal: Journal
    on: date
    expect: dict[str, Any]


@cache
def rulebook() -> Rulebook:
    book, problems = load_rules(RULES)
    assert not problems, "\n".join(map(str, problems))
    return book


def set_path(data: dict[str, Any], path: str, value: Any) -> None:
    *parents, last = path.split(".")
    for step in parents:
        data = data.setdefault(step, {})
    if value is None:
        data.pop(last, None)
    else:
        data[last] = value


def read_cases(path: Path) -> list[Case]:
    found = []
    for raw in yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader) or []:
        base = deepcopy(BASE)
        for key, value in (raw.get("tank") or {}).items():
            set_path(base, key, None if value == "" else value)
        start = date.fromisoformat(base["start"])
        for phase in raw.get("passed") or ():
            base.setdefault("already", {})[phase] = (start - timedelta(days=1)).isoformat()
        tank, problems = read_tank(yaml.safe_dump(base, sort_keys=False), "tank.yaml")
        assert tank is not None and not problems, f"{path.name}: {raw['case']}\n" + "\n".join(map(str, problems))
        text = "when,kind,what,value,unit,where,note\n" + "".join(row + "\n" for row in raw.get("journal") or ())
        journal, wrong = read_journal(text, "journal.csv", tank, zone_of(tank))
        if not raw["expect"].get("problems"):
            assert not wrong, f"{path.name}: {raw['case']}\n" + "\n".join(map(str, wrong))
        found.append(Case(path.relative_to(RULES).as_posix(), raw["case"], tank, journal, date.fromisoformat(raw["on"]), raw["expect"]))
    return found


@cache
def all_cases() -> tuple[Case, ...]:
    return tuple(case for path in sorted(RULES.rglob("*.cases.yaml")) for case in read_cases(path))


def plan_of(case: Case, rules: Rulebook) -> Plan:
    return make_plan(case.tank, case.journal, rules, case.on)


def gate_word(plan: Plan, gate: str) -> str:
    """open, shut or hold, as cases say it. A gate that is open with a hold on it is "hold"."""
    phase = plan.phase(gate)
    if any(h.gate == gate for h in plan.holds):
        return "hold"
    return "open" if phase is not None and phase.opened is not None else "shut"


def failures(case: Case, rules: Rulebook) -> list[str]:
    """What the plan says otherwise than the case; empty if all holds."""
    plan = plan_of(case, rules)
    wrong = []
    due = {t.key for t in plan.tasks if t.state in (State.DUE, State.LATE)}
    open_keys = {t.key for t in plan.tasks if t.state in OPEN}
    for gate, word in (case.expect.get("gates") or {}).items():
        if (said := gate_word(plan, gate)) != word:
            needs = "; ".join(f"{n.text}: {n.met} {n.evidence}" for n in (plan.phase(gate).needs if plan.phase(gate) else ()))  # type: ignore[union-attr]
            wrong.append(f"gate {gate} is {said}, not {word} ({needs})")
    wrong += [f"{key} is not due" for key in case.expect.get("due") or () if key not in due]
    wrong += [f"{key} is due" for key in case.expect.get("not_due") or () if key in due]
    wrong += [f"{key} is there" for key in case.expect.get("absent") or () if key in open_keys]
    wrong += [f"{key} is not there" for key in case.expect.get("present") or () if key not in open_keys]
    wrong += [f"{key} is not on hold" for key in case.expect.get("on_hold") or () if not any(t.key == key and t.state == State.ON_HOLD for t in plan.tasks)]
    for key, day in (case.expect.get("dates") or {}).items():
        if key.startswith("gate/"):
            phase = plan.phase(key.removeprefix("gate/"))
            said_day = (phase.opened or phase.window.likely) if phase else None
        else:
            said_day = next((t.date for t in plan.tasks if t.key == key and t.state in OPEN), None)
        if said_day is None or said_day.isoformat() != day:
            wrong.append(f"{key} is on {said_day}, not {day}")
    known = {"gates", "due", "not_due", "absent", "present", "on_hold", "dates", "problems"}
    wrong += [f"the case expects '{key}', which is no expectation" for key in case.expect if key not in known]
    return wrong
