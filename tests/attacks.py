"""A shop that wants less protection and knows the rules: attempts to loosen them by a folder of house rules.

Each attempt is a folder (path -> data) and what it is after. The defence is judged by what must still hold of the merged
rules, which is written down here by itself and asks nothing of the code that allows or refuses house rules.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from planner.rulebook.house.overlay import load_house
from planner.rulebook.read import shipped
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.stock.catalogue import Catalogue, load_catalogue

Files = dict[str, Any]
NEVER = {"all": [{"event": "leak"}, {"not": {"event": "leak"}}]}
ALWAYS = {"any": [{"event": "leak"}, {"not": {"event": "leak"}}]}


@dataclass(frozen=True)
class Attack:
    after: str
    files: Files


def attacks(book: Rulebook, catalogue: Catalogue) -> Iterator[Attack]:
    yield from on_numbers(book)
    yield from on_tasks(book)
    yield from on_gates(book)
    yield from on_alerts(book)
    yield from on_cautions(book)
    yield from on_phases(book)
    yield from on_orders(book)
    yield from on_animals(catalogue)
    yield from by_new_things(book)


def on_numbers(book: Rulebook) -> Iterator[Attack]:
    """Shorter waits, weaker limits, smaller proofs: every number that is declared to protect, the wrong way, by every door."""
    doors = ("numbers.yaml", "setup/water.yaml", "alerts/leak.yaml")
    protecting = [(name, n) for name, n in sorted(book.numbers.items()) if n.protects]
    for k, (name, number) in enumerate(protecting):
        worse = number.value * (0.9 if number.protects == "higher_is_stricter" else 1.1) or (-1.0 if number.protects == "higher_is_stricter" else 1.0)
        door = doors[k % 3]
        data: Files = {"numbers": {name: {"value": f"{worse:.9g}"}}}
        data |= {"setup/water.yaml": {"phase": "water"}, "alerts/leak.yaml": {"alerts": []}}.get(door, {})
        yield Attack(f"{name} to {worse:.4g}", {door: data})
    tricks: dict[str, Any] = {"unit": "months", "protects": "lower_is_stricter", "range": [0, 1e6], "name twice": None, "zero": "0", "minus": "-1", "tiny": "1e-300", "huge": "1e300", "inf": "inf", "nan": "nan", "text": "none"}
    for k, (trick, value) in enumerate(tricks.items()):
        name, number = protecting[(11 * k) % len(protecting)]
        given: Files = {"value": f"{number.value:g}"}
        if trick in ("unit", "range", "protects"):
            given = {"value": "0", trick: value}
        elif value is not None:
            given = {"value": value}
        files: Files = {"numbers.yaml": {"numbers": {name: given}}}
        if trick == "name twice":
            files["setup/water.yaml"] = {"phase": "water", "numbers": {name: {"value": "0"}}}
        yield Attack(f"{name} by {trick}", files)


def of_task(key: str, book: Rulebook, change: Files) -> Files:
    owner, _, id = key.partition("/")
    if any(p.phase == owner for p in book.phases):
        return {f"setup/{owner}.yaml": {"phase": owner, "tasks": [{"id": id, **change}]}}
    return {"alerts/ours.yaml": {"alerts": [{"alert": owner, "tasks": [{"id": id, **change}]}]}}


def protecting(book: Rulebook) -> list[str]:
    owners = {a.alert for a in book.alerts}
    return sorted(k for k, t in book.tasks.items() if t.protects or t.role in ("remedy", "animals") or k.partition("/")[0] in owners)


def on_tasks(book: Rulebook) -> Iterator[Attack]:
    """Dropped cautions and steps, and every key that would make a protecting task rarer, later or absent."""
    keys = protecting(book)
    short = next(name for name, n in sorted(book.numbers.items()) if n.unit == "h" and n.value <= 2)
    long = next(name for name, n in sorted(book.numbers.items()) if n.unit in ("d", "wk") and n.value >= 28)
    changes: list[tuple[str, Files]] = [
        ("cautions", {"cautions": []}), ("steps", {"steps": ["Go ahead."]}), ("watch", {"watch": []}), ("protects", {"protects": "no"}), ("calendar", {"calendar": "no"}), ("when", {"when": NEVER}),
        ("only_when", {"only_when": NEVER}), ("unless", {"unless": ALWAYS}), ("once", {"once": "yes"}), ("until", {"until": "site"}), ("role", {"role": "step"}), ("every", {"every": long}), ("wait", {"wait": short}),
        ("anchor", {"anchor": {"start": "yes"}}), ("reads", {"reads": []}), ("where", {"where": "mixing"}), ("acts", {"acts": []}), ("rank", {"rank": "rest"}), ("variants", {"variants": [{"only_when": ALWAYS, "steps": ["Go ahead."]}]}),
        ("also_done_by", {"also_done_by": ["site/place"]}), ("void_after", {"void_after": "site/place"}), ("writes", {"writes": {"kind": "event", "what": "calm"}}), ("counts", {"counts": "event:smell"}), ("title", {"title": "Nothing to do here"}),
        ("because", {"because": []}), ("guards", {"guards": []}), ("not_before", {"not_before": "care/weekly"}), ("known_as", {"known_as": "rock_in"}), ("amounts", {"amounts": []}), ("spoils", {"spoils": []}),
    ]
    for k, key in enumerate(keys):
        for n in range(2):
            name, change = changes[(2 * k + n) % len(changes)]
            yield Attack(f"{name} of {key}", of_task(key, book, change))
    for key in keys[::9]:  # word for word ours, and for no tank at all
        yield Attack(f"steps of {key} taken away", of_task(key, book, {"steps": [*({"text": str(line), "unless": ALWAYS} for line in book.tasks[key].steps), "Go ahead."]}))


def on_gates(book: Rulebook) -> Iterator[Attack]:
    changes: list[Files] = [
        {"opens_when": ALWAYS}, {"opens_when": {"event": "smell"}}, {"lapses_when": NEVER}, {"protects": "no"}, {"holds": []}, {"stuck": []}, {"expect": {"quick": "leak_watch", "likely": "leak_watch", "slow": "leak_watch"}},
        {"needs_too": [ALWAYS], "opens_when": ALWAYS}, {"title": "Open at once"}, {"keeps_out": "nothing"}, {"holds": [{"when": ALWAYS, "because": "Ours.", "instead": ["fish/choose"]}]}]
    phases = [p.phase for p in book.phases]
    for k, phase in enumerate(phases):
        for n in range(2):
            change = changes[(2 * k + n) % len(changes)]
            yield Attack(f"gate of {phase}: {', '.join(change)}", {f"setup/{phase}.yaml": {"phase": phase, "gate": change}})
    for change in changes:
        yield Attack(f"gate of animals: {', '.join(change)}", {"setup/animals.yaml": {"phase": "animals", "gate": change}})


def on_alerts(book: Rulebook) -> Iterator[Attack]:
    changes: list[Files] = [{"when": NEVER}, {"holds": []}, {"unknown_holds": "no"}, {"say": "All is well."}, {"title": "All is well"}, {"rank": "rest"}, {"over": ALWAYS}, {"one_is_enough": "yes"}]
    for k, alert in enumerate(book.alerts):
        change = ([*changes, {"unless_up": [book.alerts[k - 1].alert]}])[k % (len(changes) + 1)]
        yield Attack(f"alert {alert.alert}: {', '.join(change)}", {"alerts/ours.yaml": {"alerts": [{"alert": alert.alert, **change}]}})


def on_cautions(book: Rulebook) -> Iterator[Attack]:
    for k, key in enumerate(sorted(book.cautions)):
        field = ("text", "title", "defer")[k % 3]
        yield Attack(f"caution {key}: {field}", {"cautions.yaml": {key: {field: "It is safe."}}})


def on_phases(book: Rulebook) -> Iterator[Attack]:
    for k, phase in enumerate(book.phases):
        change: Files = [{"after": []}, {"order": "1"}, {"beside": ["site"]}, {"only_when": NEVER}, {"role": "opens_to_animals"}, {"tasks": []}][k % 6]
        yield Attack(f"phase {phase.phase}: {', '.join(change)}", {f"setup/{phase.phase}.yaml": {"phase": phase.phase, **change}})
    gate = {"title": "Ours", "opens_when": ALWAYS}
    for role in ("opens_to_animals", "proves_filter", "stocks_fish", "quarantine", "without_end"):
        yield Attack(f"a phase of ours as {role}", {"setup/fast.yaml": {"phase": "fast", "title": "Fast", "order": "1", "intro": "Fast.", "role": role, "gate": gate, "tasks": []}})


def on_orders(book: Rulebook) -> Iterator[Attack]:
    """Lines of the file that keeps acts apart, taken out or emptied."""
    for name in ("together.yaml", "setup/together.yaml", "care/together.yaml", "alerts/together.yaml"):
        for data in ({"apart": []}, {"apart": [{"id": line.id, "act": line.acts[0] if hasattr(line, "acts") else "", "hours": "0"} for line in book.apart[:3]]}):
            yield Attack(f"the orders of a day by {name}", {name: data})


def on_animals(catalogue: Catalogue) -> Iterator[Attack]:
    """Animals made small, tough and friendly, and new ones that are ours under another name."""
    changes: list[Files] = [{"adult_cm": "1"}, {"run_cm": "1"}, {"load": "0"}, {"temp_c": ["0", "40"]}, {"rivals": []}, {"eats": []}, {"nips": []}, {"hazards": []}, {"skill": "easy"}, {"manner": "mild"}, {"light": "none"}, {"cites": ""}, {"truce": "true"},
                            {"jumps": "false"}, {"age_days": "0"}, {"reach_cm": "0"}, {"gape": "0"}, {"counts_as": []}, {"together": ["1", "0"]}, {"word": "Easy."}, {"food": []}, {"sand_cm": "0"}]
    picked = list(catalogue.animals)[:: max(1, len(catalogue.animals) // 44)]
    for k, animal in enumerate(picked):
        change = changes[k % len(changes)]
        group = str(animal.group)
        yield Attack(f"{', '.join(change)} of {animal.id}", {f"livestock/{group}.yaml": {"group": group, "animals": [{"id": animal.id, **change}]}})
    first = picked[0]
    yield Attack("ours under another name", {"livestock/new.yaml": {"group": str(first.group), "animals": [{"id": "easy-one", "name": first.name, "adult_cm": "1"}]}})


def by_new_things(book: Rulebook) -> Iterator[Attack]:
    """Tasks that would write the facts on which gates rest, bring animals in, or take our names."""
    writes: list[Files] = [{"kind": "reading", "what": "ammonia"}, {"kind": "dosed", "what": "ammonia"}, {"kind": "done", "what": "leak-test/watch"}, {"kind": "added", "what": "ocellaris"}, {"kind": "changed_water", "what": ""}, {"kind": "event", "what": "fed"}, {"kind": "event", "what": "leak_over"}]
    for n, fact in enumerate(writes):
        yield Attack(f"a task that writes {fact['kind']} {fact['what']}", {"setup/water.yaml": {"phase": "water", "tasks": [{"id": f"ours-{n}", "title": "Ours", "anchor": {"phase": "water"}, "writes": fact}]}})
    for field, value in (("role", "animals"), ("per_stage", "fish"), ("guards", [{"sort": "fish", "task": "site/place"}]), ("known_as", "big_change"), ("also_done_by", ["cycle/dose"]), ("buys", "all"), ("uses", ["salt"])):
        yield Attack(f"a task with {field}", {"setup/fish.yaml": {"phase": "fish", "tasks": [{"id": "ours", "title": "Ours", "anchor": {"phase": "fish"}, field: value}]}})
    yield Attack("an alert that takes a phase's name", {"alerts/ours.yaml": {"alerts": [{"alert": "animals", "title": "Ours", "when": ALWAYS, "say": "Ours."}]}})
    yield Attack("a hold that lets animals go on", {"setup/animals.yaml": {"phase": "animals", "gate": {"holds": [{"when": ALWAYS, "because": "Ours.", "instead": [k for k, t in book.tasks.items() if t.role == "animals"][:1]}]}}})


# --- what must still hold


@cache
def our_animals() -> Catalogue:
    return load_catalogue([shipped("rules") / "livestock"])


def merged(attack: Attack, book: Rulebook) -> tuple[Rulebook, Catalogue, int]:
    """The rules and animals with the attempt laid over them, and how many problems were told."""
    with tempfile.TemporaryDirectory() as name:
        for path, data in attack.files.items():
            (Path(name) / path).parent.mkdir(parents=True, exist_ok=True)
            (Path(name) / path).write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
        over, problems = load_house(Path(name), book, "house")
        animals = load_catalogue([shipped("rules") / "livestock", Path(name) / "livestock"]) if (Path(name) / "livestock").is_dir() else None
        return over, animals or our_animals(), len(problems) + len(animals.problems if animals else ())


def loosened(book: Rulebook, over: Rulebook, animals: Catalogue, laid: Catalogue) -> list[str]:
    """What protects less than before, in a line each."""
    found = []
    for name, number in book.numbers.items():
        now = over.numbers[name]
        if (number.protects == "higher_is_stricter" and not now.value >= number.value) or (number.protects == "lower_is_stricter" and not now.value <= number.value) or (now.unit, now.protects, now.range) != (number.unit, number.protects, number.range):
            found.append(f"number {name}")
    safe = set(protecting(book))
    for key, task in book.tasks.items():
        if key not in over.tasks:
            found.append(f"task {key} is gone")
        elif lost := task_lost(task, over.tasks[key], key in safe, over):
            found.append(f"task {key}: {', '.join(lost)}")
    for phase in book.phases:
        now_phase = over.phase(phase.phase)
        gate, now_gate = phase.gate, now_phase.gate
        kept = {k: getattr(now_phase, k) == getattr(phase, k) for k in ("role", "order", "beside", "only_when", "beside_wait")}
        kept |= {"after": set(phase.after) <= set(now_phase.after), "opens_when": asks_at_least(now_gate.opens_when, gate.opens_when), "lapses_when": now_gate.lapses_when == gate.lapses_when,
                 "holds": all(h in now_gate.holds for h in gate.holds), "stuck": all(s in now_gate.stuck for s in gate.stuck), "expect": now_gate.expect == gate.expect, "keeps_out": now_gate.keeps_out == gate.keeps_out, "gate title": phase.role != "opens_to_animals" or gate.title in now_gate.title}
        added = [h for h in now_gate.holds if h not in gate.holds]
        kept["instead"] = all(over.tasks[k].role in ("test", "remedy", "care") for h in added for k in h.instead)
        found += [f"phase {phase.phase}: {k}" for k, ok in kept.items() if not ok]
    by_name = {a.alert: a for a in over.alerts}
    for alert in book.alerts:
        now_alert = by_name.get(alert.alert)
        if now_alert is None or now_alert.when != alert.when or not set(alert.holds) <= set(now_alert.holds) or now_alert.unknown_holds < alert.unknown_holds or alert.say not in now_alert.say or alert.title not in now_alert.title or now_alert.rank != alert.rank or any(getattr(now_alert, k) != getattr(alert, k) for k in ("over", "one_is_enough", "unless_up")):
            found.append(f"alert {alert.alert}")
    for caution_key, caution in book.cautions.items():
        now_caution = over.cautions.get(caution_key)
        if now_caution is None or any(getattr(caution, f) not in getattr(now_caution, f) for f in ("title", "text", "defer")):
            found.append(f"caution {caution_key}")
    if over.apart != book.apart:
        found.append("the orders of one day")
    roles = [p.role for p in over.phases if p.role is not None]
    if len(roles) != len(set(roles)):
        found.append("two phases with one role")
    for key, task in over.tasks.items():
        if key not in book.tasks and (task.role == "animals" or (task.writes is not None and task.writes.kind != "event") or task.also_done_by or task.known_as):
            found.append(f"new task {key}")
    before = {a.id: a for a in animals.animals}
    for animal in laid.animals:
        ours = before.get(animal.id)
        if ours is None:
            if any(animal.name == a.name for a in before.values()):
                found.append(f"new animal {animal.id} is one of ours")
        elif animal.room_l < ours.room_l or animal.run_cm < ours.run_cm or animal.nitrogen_mg_per_day < ours.nitrogen_mg_per_day or animal.adult_cm < ours.adult_cm or not set(ours.rivals) <= set(animal.rivals) or ours.jumps > animal.jumps:
            found.append(f"animal {animal.id}")
    return found


def task_lost(old: TaskRule, now: TaskRule, safe: bool, over: Rulebook) -> list[str]:
    lost = [k for k in ("role", "anchor", "not_before", "only_when", "when", "unless", "from_", "counts", "once", "until", "where", "acts", "rank", "spoils", "variants", "writes", "also_done_by", "void_after", "guards", "known_as", "per_stage") if getattr(now, k) != getattr(old, k)]
    lost += [k for k in ("cautions", "amounts", "reads", "cites") if not set(getattr(old, k)) <= set(getattr(now, k))]
    lost += [k for k in ("protects", "calendar") if getattr(now, k) < getattr(old, k)]
    if safe:
        lost += [k for k in ("steps", "watch", "because") if not set(getattr(old, k)) <= set(getattr(now, k))]
        lost += ["title"] if old.title not in now.title else []
        lost += ["a line's tanks"] if any(unless not in (None, dict(tanks_of(old)).get(line)) for line, unless in tanks_of(now) if line in (*old.steps, *old.watch)) else []
    if now.every != old.every and (old.every is None or now.every is None or over.hours(now.every) > over.hours(old.every)):
        lost.append("every")
    if now.wait != old.wait and (old.wait is not None and (now.wait is None or over.hours(now.wait) < over.hours(old.wait))):
        lost.append("wait")
    return lost


def tanks_of(task: TaskRule) -> list[tuple[str, object]]:
    """Each line with what takes it away."""
    return [(str(line), getattr(line, "unless", None)) for line in (*task.steps, *task.watch)]


def asks_at_least(now: Any, before: Any) -> bool:
    """Is the old condition one of those that must all hold?"""
    parts = now.all or ()
    return bool(now == before or any(asks_at_least(part, before) for part in parts) or (before.all and all(part in parts for part in before.all)))
