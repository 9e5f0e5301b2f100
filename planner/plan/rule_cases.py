"""Cases beside the rules (`<name>.cases.yaml`): a tank, a journal and a day, and what the plan must say of them.

A case starts from one plain tank; `tank` changes single keys of it (`rock.kind: live`), `passed` names phases that are
behind it, `journal` holds rows as they stand in the file.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Literal

from planner.files.journal import read_journal
from planner.files.read_file import FileRefused, read_plain_file
from planner.files.tank import Tank, read_tank
from planner.files.tank_fields import Day
from planner.files.yaml_checked import line_of, read_yaml, validate
from planner.judge.facts import zone_of
from planner.plan.make import make_plan
from planner.rulebook.nodes import Written
from planner.rulebook.read import shipped
from planner.rulebook.shapes import Rulebook
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.terms.problems import Place, Problem, sort_problems
from planner.terms.records import Answer, Journal, Need, Plan, State

BASE: dict[str, Any] = {
    "name": "case tank", "start": "2026-03-02", "timezone": "Europe/London",
    "tank": {"length": "100 cm", "width": "50 cm", "height": "50 cm", "glass": "10 mm", "waterline": "3 cm"},
    "rock": {"kind": "dry", "mass": "15 kg"}, "sand": {"kind": "dry", "mass": "15 kg"}, "water": {"source": "ro"},
    "equipment": {"bin": "60 L", "ro_rate": "190 L/day"}, "room": {"temperature": "21 C", "floor": "solid"},
    "test_kits": {"ammonia": {"basis": "N", "step": "0.25"}, "nitrite": {"basis": "N", "step": "0.25"}, "nitrate": {"basis": "ion", "step": "5"}},
}
HEADER = "when,kind,what,value,unit,where,note\n"
OPEN = (State.DUE, State.LATE, State.PLANNED, State.WAITING, State.ON_HOLD)
LIVE = (State.DUE, State.LATE, State.PLANNED)


class Expected(Written):
    """What the plan says: each gate open, shut or on hold; tasks by their keys; days as dates, also `gate/phase`; words
    that stand in the advice while a gate stays shut, or do not; words of a job (its title, its steps and what to watch), by its key. `or_stronger`: remedies that may stand in place of those
    expected where house rules are stricter."""

    gates: dict[str, Literal["open", "shut", "hold"]] = {}
    due: tuple[str, ...] = ()
    not_due: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    present: tuple[str, ...] = ()
    on_hold: tuple[str, ...] = ()
    or_stronger: tuple[str, ...] = ()
    dates: dict[str, Day] = {}
    advice: tuple[str, ...] = ()
    no_advice: tuple[str, ...] = ()
    tells: dict[str, tuple[str, ...]] = {}
    tells_not: dict[str, tuple[str, ...]] = {}
    problems: bool = False


class CaseRule(Written):
    """One case as it is written. Its title is its claim. `judged`: its wish list is judged by the animals that ship; else it is as if nobody had yet."""

    case: str
    on: Day
    tank: dict[str, Any] = {}
    passed: tuple[str, ...] = ()
    judged: bool = False
    journal: tuple[str, ...] = ()
    expect: Expected


@dataclass(frozen=True, slots=True)
class Case:
    place: Place
    title: str
    tank: Tank
    journal: Journal
    on: date
    expect: Expected
    source_line: str = ""
    judged: bool = False


def read_cases(path: Path, name: str) -> tuple[tuple[Case, ...], tuple[Problem, ...]]:
    """The cases of a file, and what was wrong with it; a case that cannot be read is left out. `name` is how the file is
    called in messages."""
    try:
        written = read_plain_file(path)
    except FileRefused as error:
        return (), (Problem(Place(name), error.code, error.message, error.fix),)
    except OSError:
        return (), (Problem(Place(name), "unreadable", "this file cannot be read", "check who may read it"),)
    data, places, found = read_yaml(written, name)
    problems = list(found)
    cases: list[Case] = []
    lines = written.decode("utf-8-sig", errors="replace").splitlines()
    if data is not None and not isinstance(data, list):
        return (), sort_problems([*problems, Problem(places.around(()), "not-a-list", "a file of cases is a list", "begin each case with `- case:` and its claim")])
    for n, item in enumerate(data or ()):
        rule, more = validate(CaseRule, item, places.part((n,)), lines)
        problems += more
        if rule is not None:
            place = places.around((n,))
            case, wrong = _made(rule, place, line_of(lines, place.line))
            cases += [case] if case else []
            problems += [wrong] if wrong else []
    return tuple(cases), sort_problems(problems)


def _made(rule: CaseRule, place: Place, line: str) -> tuple[Case | None, Problem | None]:
    base = deepcopy(BASE)
    for key, value in rule.tank.items():
        set_path(base, key, None if value == "" else value)
    try:
        start = date.fromisoformat(str(base.get("start")))
    except ValueError:
        return None, Problem(place, "not-a-date", f"`start` of this case is {base.get('start')!r}", "write it as year-month-day, such as `2026-03-04`", line)
    for phase in rule.passed:
        base.setdefault("already", {})[phase] = (start - timedelta(days=1)).isoformat()
    tank, problems = _tank(json.dumps(base))
    if tank is None or problems:
        return None, Problem(place, problems[0].code, f"the tank of this case cannot be read: {problems[0].message}", problems[0].fix, line)
    journal, wrong = read_journal(HEADER + "".join(row + "\n" for row in rule.journal), "journal", tank, zone_of(tank))
    if wrong and not rule.expect.problems:
        return None, Problem(place, wrong[0].code, f"row {wrong[0].place.line - 1} of this case cannot be read: {wrong[0].message}", wrong[0].fix, line)
    return Case(place, rule.case, tank, journal, rule.on, rule.expect, line, rule.judged), None


@cache
def _animals() -> Catalogue:
    return load_catalogue([shipped("rules") / "livestock"])


@cache
def _tank(text: str) -> tuple[Tank | None, tuple[Problem, ...]]:
    """Most cases begin in one of a few tanks. What JSON writes, YAML reads."""
    return read_tank(text, "tank")


def set_path(data: dict[str, Any], path: str, value: Any) -> None:
    """Set `rock.kind` and the like; None takes the key out."""
    *parents, last = path.split(".")
    for step in parents:
        data = data.setdefault(step, {})
    if value is None:
        data.pop(last, None)
    else:
        data[last] = value


def cases_below(folder: Path, name: str) -> tuple[tuple[Case, ...], tuple[Problem, ...]]:
    """Every case of a folder of rules."""
    cases: list[Case] = []
    problems: list[Problem] = []
    for path in sorted(folder.rglob("*.cases.yaml")):
        found, wrong = read_cases(path, f"{name}/{path.relative_to(folder).as_posix()}")
        cases += found
        problems += wrong
    return tuple(cases), sort_problems(problems)


def gate_word(plan: Plan, gate: str) -> str:
    """open, shut or hold, as cases say it. A gate that is open with a hold on it is "hold"."""
    phase = plan.phase(gate)
    if any(h.gate == gate for h in plan.holds):
        return "hold"
    return "open" if phase is not None and phase.opened is not None else "shut"


def failures(case: Case, rules: Rulebook, say: Callable[[Need], str] | None = None) -> list[str]:
    """What the plan says otherwise than the case; empty if all holds. `say` puts into words what a shut gate still needs."""
    plan, expect = make_plan(case.tank, case.journal, rules, case.on, catalogue=_animals() if case.judged else None), case.expect
    wrong = [f"there is no phase '{phase}'" for phase in case.tank.already if phase not in {p.phase for p in rules.phases}]
    asked = {t.id for t in plan.tasks if t.state in (State.DUE, State.LATE)}
    due = {t.key for t in plan.tasks if t.id in asked or t.tested_with in asked}
    open_keys = {t.key for t in plan.tasks if t.state in OPEN}
    for gate, word in expect.gates.items():
        if (said := gate_word(plan, gate)) != word:
            phase = plan.phase(gate)
            needs = [say(n) for n in (phase.needs if phase else ()) if n.met != Answer.YES] if say is not None else []
            wrong.append(f"gate {gate} is {said}, not {word}" + (f" ({'; '.join(needs)})" if needs else ""))
    wrong += [f"{key} is not due" for key in expect.due if key not in due]
    wrong += [f"{key} is due" for key in expect.not_due if key in due]
    wrong += [f"{key} is there" for key in expect.absent if key in open_keys]
    wrong += [f"{key} is not there" for key in expect.present if key not in open_keys]
    wrong += [f"{key} is not on hold" for key in expect.on_hold if not any(t.key == key and t.state == State.ON_HOLD for t in plan.tasks)]
    for key, day in expect.dates.items():
        if key.startswith("gate/"):
            phase = plan.phase(key.removeprefix("gate/"))
            said_day = (phase.opened or phase.window.likely) if phase else None
        else:
            said_day = next((t.date for t in plan.tasks if t.key == key and t.state in OPEN), None)
        if said_day != day:
            wrong.append(f"{key} is on {said_day}, not {day}")
    told = "\n".join(line for phase in plan.phases for line in phase.advice)
    wrong += [f"the advice does not say '{words}'" for words in expect.advice if words not in told]
    wrong += [f"the advice says '{words}'" for words in expect.no_advice if words in told]
    wrong += [f"{key} does not say '{words}'" for key, all_words in expect.tells.items() for words in all_words if words not in _told(plan, key)]
    wrong += [f"{key} says '{words}'" for key, all_words in expect.tells_not.items() for words in all_words if words in _told(plan, key)]
    return wrong


def _told(plan: Plan, key: str) -> str:
    """What the next open occurrence of a job says in the keeper's words."""
    task = next((t for t in plan.tasks if t.key == key and t.state in OPEN), None)
    return "\n".join((task.title, *(s for s in task.steps if isinstance(s, str)), *task.watch)) if task is not None else ""


def failed_cases(cases: Iterable[Case], rules: Rulebook, say: Callable[[Need], str] | None = None) -> tuple[Problem, ...]:
    """Each case whose claim does not hold, as a problem at its place."""
    return sort_problems(Problem(case.place, "case-fails", f"the case '{case.title}' does not hold: {'; '.join(wrong)}", "mend the rule, or the case", case.source_line)
                         for case in cases if (wrong := failures(case, rules, say)))


def loosened_cases(cases: Iterable[Case], ours: Rulebook, theirs: Rulebook) -> tuple[Problem, ...]:
    """Shipped cases that show a merged book to be looser than ours: a gate open that must be shut, a hold or an alert
    that is not there, animals that come too early. A gate that opens later, and what follows from it, is no loosening."""
    return sort_problems(Problem(case.place, "case-loosened", f"with these house rules the case '{case.title}' shows less protection: {'; '.join(wrong)}", "mend the house rule that does it", case.source_line)
                         for case in cases if _could_tell(case, ours) and (wrong := list(_looser(case, ours, theirs))))


def _could_tell(case: Case, ours: Rulebook) -> bool:
    alerts = {a.alert for a in ours.alerts}
    e = case.expect
    return bool("shut" in e.gates.values() or "hold" in e.gates.values() or e.on_hold or any(k.partition("/")[0] in alerts for k in (*e.due, *e.present))
                or any(k in ours.tasks and ours.tasks[k].role == "animals" for k in (*e.absent, *e.not_due)))


def _looser(case: Case, ours: Rulebook, theirs: Rulebook) -> Iterator[str]:
    plan, expect = make_plan(case.tank, case.journal, theirs, case.on, catalogue=_animals() if case.judged else None), case.expect
    opened = {p.id for p in plan.phases if p.opened is not None}
    held = {h.gate for h in plan.holds}
    states = {key: {t.state for t in plan.tasks if t.key == key} for key in (*expect.due, *expect.present, *expect.on_hold, *expect.absent, *expect.not_due, *expect.or_stronger)}
    for gate, word in expect.gates.items():
        if gate in opened and (word == "shut" or (word == "hold" and gate not in held)):
            yield f"gate {gate} is open"
    # A job that repeats is held on its own day alone: its later turns are planned.
    loose = [key for key in expect.on_hold if states[key] & set(LIVE) and State.ON_HOLD not in states[key]]
    for key in (*expect.absent, *expect.not_due):
        if key in ours.tasks and ours.tasks[key].role == "animals" and states[key] & ({State.DUE, State.LATE} if key in expect.not_due else set(LIVE)):
            yield f"{key} is there"
    alerts = {a.alert for a in ours.alerts}
    quiet = [key for key in (*expect.due, *expect.present) if key.partition("/")[0] in alerts and not states[key] & set(OPEN)]
    if any(states[key] & set(OPEN) for key in expect.or_stronger):
        quiet = []
    if loose or quiet:
        before = make_plan(case.tank, case.journal, ours, case.on)
        as_far = {p.id for p in before.phases if p.opened is not None} <= opened
        # What yields to another order of its day, and an alert that counts from a gate, come later where a gate does.
        yields = {t.key for t in before.tasks if t.yielded}
        yield from (f"{key} is not on hold" for key in loose if as_far or key not in yields)
        yield from (f"{key} is not there" for key in quiet if as_far)


__all__ = ["BASE", "Case", "CaseRule", "cases_below", "failed_cases", "failures", "gate_word", "loosened_cases", "read_cases", "set_path"]
