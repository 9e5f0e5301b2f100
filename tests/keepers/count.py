"""What is counted in a whole life: dead ends, treadmills, harm, dates that jump, alarms that stay, silence. The table of one
page stands in `table.py`. The truth is the virtual tank's; the engine's rules are not asked."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from datetime import date, timedelta

from tests.keepers.offence import DEAD_END, HARM, JUMP, SILENT, STAYS, TREADMILL, WRONG, Offence
from tests.keepers.record import Day, Page
from tests.keepers.table import SALT_RIGHT, collisions, untested_arrivals

DEAD_END_DAYS = 14
FEEDS = ("dosed:ammonia", "event:fed")
"""What a filter without animals lives on, as a job or a row writes it."""
STAY_DAYS = 8
A_WEEK = 7
"""The longest way to the next shopping day."""
FALLS_WITHIN = 4
"""Days in which a batch is mixed, changed and tested."""
ADRIFT = 10
"""Times that the near day of a stage moves on: ten weeks of shopping days."""
TREAD = 5
SEASON = 91
"""Days within which a test that is made 15 times is one treadmill."""
SPACED = 3
"""Days between two tests of ammonia or nitrite that is really there, from which on they are no treadmill: practice asks for such tests
until they are clear twice, however long a filter takes (common practice, no source)."""
AFTER_FAULT = 14
STEP = {"tan": 0.2, "phosphate": 0.04, "nitrite": 0.2, "nitrate": 4.0, "alkalinity": 0.4, "salinity": 0.3, "temperature": 0.4, "ph": 0.1}
MOVES = {"cycle/bicarbonate": "alkalinity", "alkalinity-low/raise": "alkalinity", "big-change/change": "nitrate", "nitrate/change": "nitrate", "salinity-low/raise": "salinity",
         "salinity-high/lower": "salinity", "start-up/correct-salinity": "salinity", "animals/salinity-trim": "salinity", "heat/cool": "temperature", "cold/warm": "temperature", "warm/cool": "temperature", "start-up/warm": "temperature", "ph-low/air": "ph",
         "ammonia-one/change": "tan", "ammonia-two/change": "tan", "nitrite/change": "nitrite", "rock/soak-change": "phosphate"}
"""The true value that an order is meant to move."""
FOR_STONY = {"nitrate-waits": 8.0, "nitrate-stony": 12.0}
"""Nitrate that no kit reads as too much for the stony corals of a list, or for those that are in (common practice, no source: they come to 10
or less, and are well again at 15)."""
USED_UP = ("cycle/bicarbonate",)
"""What the filter uses up again by the ammonia that it is given: a dose that lifted it did its work."""
PROOFS = {"cycle/challenge-dose": ("tan", "nitrite"), "quarantine/prove-2": ("quarantine_tan", "quarantine_nitrite")}
"""Doses that are meant to be gone a day later."""
WELL: dict[str, Callable[[dict[str, float]], bool]] = {
    "ammonia": lambda w: w["tan"] < 0.08, "nitrite": lambda w: w["nitrite"] < 0.08, "nitrate": lambda w: w["nitrate"] < 25, "heat": lambda w: w["temperature"] < 27.3,
    "cold": lambda w: w["temperature"] > 24.2, "ph": lambda w: 7.95 < w["ph"] < 8.4, "salinity": lambda w: SALT_RIGHT[0] < w["salinity"] < SALT_RIGHT[1], "alkalinity": lambda w: 7.4 < w["alkalinity"] < 10.5,
    "animal-lost": lambda w: w["tan"] < 0.08 and w["nitrite"] < 0.08, "missed-tests": lambda w: len(w) > 0, "power": lambda w: w["oxygen"] > 5.5, "animal-early": lambda w: w["tan"] < 0.08 and w["nitrite"] < 0.08 and w["nitrate"] < 18,
}
"""When an alarm of this family has nothing left to warn of."""


def judge(days: list[Day], careful: bool, clear: dict[str, float] | None = None) -> list[Offence]:
    """All offences of a life. `careful`: a keeper who does what he is told when he is told; only such a one can be harmed by
    obeying, or be kept from his gate by the plan alone."""
    found: list[Offence] = []
    for day in days:
        found += [] if day.away else collisions(day)
        found += [Offence(WRONG, "refused a tick of its own page", day.number, s) for s in day.said if s.startswith("refused") and not day.early]
        found += [Offence(WRONG, "change written for a water that is not there", day.number, f"{r[0]} {r[2]} {r[3]} in {r[4]}")
                  for r in day.rows if r[0] == "changed_water" and r[4] == "display" and "scape" not in day.pages[-1].opened and any(k.startswith("rock/") for _, k in day.done)]
    found += dead_ends(days)
    if careful:
        found += harm(days)
        found += adrift(days)
    found += silences(days)
    found += untested_arrivals(days, clear or {"ammonia": 0.12, "nitrite": 0.12})
    found += treadmills(days)
    found += jumps(days)
    found += stays(days)
    return found


def silences(days: list[Day]) -> list[Offence]:
    """Ammonia of half a milligram or more read twice in water with animals, and no page of that evening or the next orders a
    change there or raises an alarm."""
    found = []
    bad: dict[str, int] = {}
    told: dict[str, int] = {}
    for day in days:
        for where, count in (("display", day.animals_in_display), ("quarantine", day.animals - day.animals_in_display)):
            value = day.readings.get(f"{where}:ammonia")
            if value is None or day.away:
                continue
            high = count > 0 and (value.startswith("over") or float(value) >= 0.6)
            bad[where] = bad.get(where, 0) + 1 if high else 0
            page = day.pages[-1]
            ordered = any(j.where == where and j.writes.startswith("changed_water") for p in day.pages for j in p.jobs) or (where == "display" and any(a.startswith("ammonia") for p in day.pages for a in p.alerts))
            if bad[where] >= 2 and not ordered and day.number - told.get(where, -99) > 14:
                told[where] = day.number
                found.append(Offence(SILENT, f"ammonia in the {where}", day.number, f"{value} with {count} animals; the page says: {'; '.join(j.title for j in page.jobs)[:120] or 'nothing'}"))
    return found


def dead_ends(days: list[Day]) -> list[Offence]:
    """A gate of the cycle shut for more than a fortnight of the keeper's evenings although the tank is ready, or while its filter
    has nothing to eat and no page feeds or proves it; and a page that has nothing to do while a gate is shut and nothing is dated. While batch after batch of new water really brings a high
    nitrate down, the change is on its way and the tank not ready: a small bin needs weeks."""
    found = []
    for gate in ("cycle", "big-change", "animals"):
        stood, first = 0, 0
        for day in days:
            page = day.pages[-1]
            ready = day.water["tan"] < 0.1 and day.water["nitrite"] < 0.1 and day.proof_left < 0.2 and not day.animals
            before = [g for g in ("cycle", "big-change", "animals") if g not in page.opened]
            if ready and before and before[0] == gate and "start-up" in page.opened and not (gate == "big-change" and _falls(day, days)):
                first = first if stood else day.number
                stood += not day.away
                if stood == DEAD_END_DAYS + 1 and not day.away:
                    found.append(Offence(DEAD_END, f"gate {gate} shut in a ready tank", day.number, f"ready since day {first}; it asks: " + "; ".join(n for n in page.needs if n.startswith(gate))[:220]))
            else:
                stood = 0
    hungry = 0
    for day in days:
        fed = any(job.writes in FEEDS for page in day.pages for job in page.jobs) or any(f"{r[0]}:{r[1]}" in FEEDS for r in day.rows)
        clear = day.water["tan"] < 0.1 and day.water["nitrite"] < 0.1 and not day.animals
        waits = "start-up" in day.pages[-1].opened and "cycle" not in day.pages[-1].opened
        hungry = 0 if fed or not clear or not waits else hungry + (not day.away)
        if hungry == DEAD_END_DAYS + 1 and not day.away:
            found.append(Offence(DEAD_END, "gate cycle shut, and nothing feeds or proves the filter", day.number, "; ".join(n for n in day.pages[-1].needs if n.startswith("cycle"))[:220]))
    same, asked, since, tried = 0, "", 0, 0
    for day in days:
        page = day.pages[-1]
        need = next((n for n in page.needs if n.split(":")[0] in ("site", "leak-test", "water", "scape", "start-up")), "")
        since = since if need == asked and need else day.number
        same = same + (not day.away) if need == asked and need else 0
        # Waiting for another branch is no dead end; working on this one in vain is.
        tried = (tried if same else 0) + (page.next_day is None or any(k.split("/")[0] == need.split(":")[0] for k in [*day.tested, *(k for _, k in day.done)]))
        asked = need
        if same == DEAD_END_DAYS + 1 and tried >= 3 and not day.away:
            found.append(Offence(DEAD_END, f"gate {need.split(':')[0]} asks the same thing for a fortnight", day.number, f"since day {since} it asks: {need[:160]}; the page says: {'; '.join(j.title for j in page.jobs)[:120] or 'nothing'}"))
    idle = silent = 0
    for day in days:
        page = day.pages[-1]
        shut = "animals" not in page.opened or bool(page.holds)
        nothing = not day.away and not day.pages[0].jobs and page.next_day is None and shut
        # Days that only seem to come: longer than any watch, any shopping week and any mixing of salt.
        silent = 0 if day.pages[0].jobs or not shut else silent + (not day.away)
        if silent == DEAD_END_DAYS and not day.away:
            found.append(Offence(DEAD_END, "a fortnight with nothing to do", day.number, "; ".join(page.needs[:2])[:200]))
        idle = idle + 1 if nothing else 0
        if idle == 7:
            found.append(Offence(DEAD_END, "a week with nothing to do and nothing dated", day.number, "; ".join(page.needs[:2])[:200] or "; ".join(h[1] for h in page.holds)))
    return found


def adrift(days: list[Day]) -> list[Offence]:
    """A stage of the wish list whose day moves on again and again with no alarm up: nothing that the page asks for leads to it."""
    found: list[Offence] = []
    last: dict[str, date] = {}
    moved: dict[str, int] = {}
    for day in days:
        page = day.pages[-1]
        for id, (likely, animals) in page.stages.items():
            if day.away or likely is None:
                continue
            if likely > last.get(id, likely) and last[id] <= day.on + timedelta(days=A_WEEK) and not page.alerts:
                moved[id] = moved.get(id, 0) + 1
                if moved[id] == ADRIFT:
                    found.append(Offence(DEAD_END, f"stage {id.split('#')[0]} moves on and on", day.number, f"{_names(animals)}: {last[id]} became {likely}"))
            last[id] = likely
    return found


def _falls(day: Day, days: list[Day]) -> bool:
    """Is nitrate high, and lower by a step than some days ago?"""
    earlier = days[max(0, day.number - FALLS_WITHIN)].water["nitrate"]
    return not WELL["nitrate"](day.water) and day.water["nitrate"] < earlier - STEP["nitrate"]


def treadmills(days: list[Day]) -> list[Offence]:
    """An order obeyed five times while what it should move has not moved by a step, and that comes again. A proof or a test
    that opened its gate has done its work: if the gate lapses, both are counted anew."""
    found: list[Offence] = []
    seen: dict[str, list[tuple[int, float]]] = {}
    for day, after in itertools.zip_longest(days, days[1:]):
        for key in [k for k in seen if k in PROOFS and _has_opened(k, day)]:
            del seen[key]
        for id, key in day.done:
            if key in day.early or (key in PROOFS and after is None):
                continue
            if key in PROOFS:
                what, step = "what was left of it a day later", 0.2
                value = sum(after.before.get(name, 0.0) for name in PROOFS[key])
            elif key in MOVES:
                what = MOVES[key]
                step, value = STEP[what], day.before.get(what, day.water[what])
                if key in USED_UP and day.water[what] > value + step:
                    continue
            else:
                continue
            marks = seen.setdefault(key, [])
            marks.append((day.number, value))
            last = [m[1] for m in marks[-TREAD:]]
            stood = last[-1] > last[0] - step if key in PROOFS else max(last) - min(last) < step
            failed = key not in PROOFS or last[-1] > 0.25
            if len(marks) % TREAD == 0 and stood and failed:
                found.append(Offence(TREADMILL, key, day.number, f"'{id}' done on days {', '.join(str(m[0]) for m in marks[-TREAD:])}; {what} stood at {', '.join(f'{x:.2f}' for x in last)}"))
    runs: dict[str, list[int]] = {}
    made: dict[str, int] = {}
    for day in days:
        for key in [k for k in runs if _has_opened(k, day)]:
            del runs[key]
        for key in set(day.tested):
            if key.startswith(("care/", "cycle/", "quarantine/", "rock/")):
                continue
            since = day.number - made.get(key, day.number)
            made[key] = day.number
            if since >= SPACED and _really_there(key, day):
                continue
            # What comes up now and then over a year is no mill: a season's tests are counted.
            runs[key] = [n for n in runs.get(key, []) if day.number - n < SEASON] + [day.number]
            if len(runs[key]) == 3 * TREAD:
                found.append(Offence(TREADMILL, f"test {key}", day.number, f"made {3 * TREAD} times, now {', '.join(f'{k}={v}' for k, v in day.readings.items())[:120]}"))
    retests = 0
    for day in days:
        wide = sum(1 for name in ("ammonia", "nitrite", "nitrate", "ph", "alkalinity", "salinity", "temperature") if f"display:{name}" in day.readings) >= 7
        shut = "animals" not in day.pages[-1].opened and "big-change" in day.pages[-1].opened
        retests = retests + 1 if wide and shut else retests if shut else 0
        if retests == TREAD:
            found.append(Offence(TREADMILL, "full retest", day.number, "five full sets of tests and the gate is shut: " + "; ".join(n for n in day.pages[-1].needs if n.startswith("animals"))[:200]))
            retests = 0
    return found


def _really_there(key: str, day: Day) -> bool:
    """Does the display hold the ammonia or nitrite that this alarm warns of? Then its tests go on until they are clear."""
    well = WELL.get(next((name for name in ("ammonia", "nitrite") if key.startswith(name)), ""))
    return well is not None and not well(day.before)


def _has_opened(key: str, day: Day) -> bool:
    return key.partition("/")[0] in day.pages[0].opened


def harm(days: list[Day]) -> list[Offence]:
    """Animals that suffered beside an obedient keeper, more than a fortnight after any fault of the household."""
    found: list[Offence] = []
    fault = None
    quiet: dict[str, int] = {}
    for day in days:
        if day.fault or day.early:
            fault = day.number
        if fault is not None and day.number - fault <= AFTER_FAULT:
            continue
        for cause, hours in day.harm.items():
            if day.number - quiet.get(cause, -99) > 7:
                acts = ", ".join(id for id, _ in day.done if not id.startswith("care/")) or "no act"
                found.append(Offence(HARM, cause, day.number, f"{hours:.0f} animal-hours with {acts[:90]}; alarms: {', '.join(day.pages[-1].alerts) or 'none'}"))
            quiet[cause] = day.number
    return found


def jumps(days: list[Day]) -> list[Offence]:
    """The date of a gate, or the next stage, that moves by two days or more overnight although nothing was written that
    could explain it and nothing was left undone; and a stage that changes once its way is clear. Where the proof of the filter, still
    weeks away, moves by a single day, what is bought after it moves to the next shopping day. A proof that lapses for want of food that was left
    undone is no jump."""
    found = []
    passed: set[str] = set()
    for day in days:
        for gate, likely in day.pages[0].likely.items():
            if likely is not None and likely < day.on and gate not in passed and not day.away:
                passed.add(gate)
                found.append(Offence(JUMP, f"gate {gate} is promised for a day that has passed", day.number, f"likely {likely} on the page of {day.on}"))
    for n, (old, new) in enumerate(itertools.pairwise(days)):
        a, b = old.pages[-1], new.pages[0]
        evidence = [r for r in old.rows if r[0] not in ("done",)] or [k for _, k in old.done if not k.startswith(("care/", "cycle/look", "start-up/top-up", "lights/"))] or old.fault
        undone = [j for j in a.jobs if j.id not in {id for id, _ in old.done}]
        if evidence or undone or old.away or _starved(days[max(0, n - A_WEEK):n + 1], b):
            continue
        moved = [(gate, likely, now) for gate, likely in a.likely.items() if likely and (now := b.likely.get(gate)) and abs((now - likely).days) >= 2]
        if moved and not _by_the_shops(moved, a.likely, b.likely):
            gate, likely, now = moved[0]
            found.append(Offence(JUMP, f"gate {gate}", new.number, f"{likely} became {now} overnight, and nothing was written or left undone" + (f" (with it {', '.join(m[0] for m in moved[1:])})" if moved[1:] else "")))
    for old, new in itertools.pairwise(days):
        a, b = old.pages[0], new.pages[0]
        # A fish that passes through quarantine has its way cleared by the filter there.
        if "animals" not in a.opened or not a.stages or old.away or any(n.startswith("quarantine:") for n in a.needs):
            continue
        first = min(a.stages, key=lambda s: (a.stages[s][0] is None, a.stages[s][0] or old.on, s))
        moving = [r for r in old.rows if r[0] in ("added", "moved", "lost", "postponed", "skipped", "undo")]
        if first in b.stages and not moving and {id for id, _ in b.stages[first][1]} != {id for id, _ in a.stages[first][1]}:
            found.append(Offence(JUMP, "animals of the next stage", new.number, f"{first}: {_names(a.stages[first][1])} became {_names(b.stages[first][1])}"))
        elif first not in a.unsure and a.opened == b.opened and first in b.stages and a.stages[first][0] and b.stages[first][0] and b.stages[first][0] < a.stages[first][0] - timedelta(days=1) and not moving:
            found.append(Offence(JUMP, "the next stage comes earlier", new.number, f"{first}: {a.stages[first][0]} became {b.stages[first][0]}"))
    return found


def _starved(week: list[Day], page: Page) -> bool:
    """Did the proof lapse because the filter's food of this week was left undone? It lapses a week after the last meal: days after
    the evening that was missed."""
    missed = any(j.writes in FEEDS for day in week for j in day.pages[-1].jobs if j.id not in {id for id, _ in day.done})
    return missed and "cycle" in week[-1].pages[-1].opened and "cycle" not in page.opened


def _by_the_shops(moved: list[tuple[str, date, date]], old: dict[str, date | None], new: dict[str, date | None]) -> bool:
    """Did the gate that all of it waits for move by one day, and the rest the same way by a week at most?"""
    first = next((g for g in ("cycle", "big-change", "animals") if g in old), None)
    before, after = (old[first], new.get(first)) if first is not None else (None, None)
    if before is None or after is None or abs((after - before).days) != 1:
        return False
    return all(0 < (now - likely).days * (after - before).days <= A_WEEK for _, likely, now in moved)


def _names(animals: tuple[tuple[str, int], ...]) -> str:
    return ", ".join(f"{n} {a}" for a, n in animals)


def stays(days: list[Day]) -> list[Offence]:
    """Alarms and holds (other than a test that is merely due) that stand for more than a week of evenings after the water
    has nothing left to warn of."""
    found = []
    stood: dict[str, int] = {}
    for day in days:
        page = day.pages[-1]
        up = {a for a in page.alerts if (family := _well(a)) is not None and family(day.water)}
        for alert in [a for a in stood if a not in up and not a.startswith("hold ")]:
            del stood[alert]
        for alert in up:
            stood[alert] = stood.get(alert, 0) + (not day.away)
            if stood[alert] == STAY_DAYS and not day.away:
                found.append(Offence(STAYS, f"alarm {alert}", day.number, "; ".join(j.title for j in page.jobs if j.phase == alert) or "it stands with no job"))
        calm = day.water["tan"] < 0.08 and day.water["nitrite"] < 0.08 and not page.alerts
        held = {f"hold {gate}: {because[:70]}" for gate, because, doubt in page.holds if calm and not doubt and "quarantine" not in because}
        for hold in [h for h in stood if h.startswith("hold ") and h not in held]:
            del stood[hold]
        for hold in held:
            stood[hold] = stood.get(hold, 0) + (not day.away)
            if stood[hold] == 2 * STAY_DAYS + 6 and not day.away:
                found.append(Offence(STAYS, hold.split(":")[0], day.number, hold.partition(": ")[2]))
    return found


def _well(alert: str) -> Callable[[dict[str, float]], bool] | None:
    if alert == "ammonia-after":
        return None  # two clean weeks are its own end
    if alert in FOR_STONY:
        return lambda w: w["nitrate"] < FOR_STONY[alert]
    return next((well for family, well in WELL.items() if alert.startswith(family)), None)
