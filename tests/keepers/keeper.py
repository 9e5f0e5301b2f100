"""A virtual keeper: reads the page of the day and does what it says, in the order in which it says it.

What a temper changes: the forgetful one misses days and jobs, the impatient one does things early where the commands let
him, the one on holiday is away, and the obedient one does it all. Nobody here thinks for himself.
"""

from __future__ import annotations

import itertools
import random
import re
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import yaml

from tests.keepers.door import CLOSED, URGENT, Door, Plan, Task, Written, alert_names, all_words
from tests.keepers.kits import Kits
from tests.keepers.lives import Life
from tests.keepers.record import Day, Page, see, water_of
from tests.keepers.room import Room

ROUNDS = 4
MINUTES = 300
"""What an evening holds. The first days of shopping and building are longer than any other."""
NO_FOOD = ("ammonia-one", "ammonia-two", "ammonia-three", "power-cut-stocked", "heat", "heat-severe")
LESS_FOOD = ("nitrate", "nitrate-stony", "nitrate-waits", "phosphate-high")
"""Their jobs ask for a third less."""
LOG_IT = re.compile(r"Log it only if it is below ([\d.]+) °C or above ([\d.]+) °C")
HALF_FOR = re.compile(r"Feed half as much for (\d+) days")
HALF_FOOD = ("nitrite", "ammonia-doubt", "animal-lost", "filter-lost", "power-cut-after")


@dataclass
class Keeper:
    """One life being lived."""

    life: Life
    folder: Path
    today: date = field(init=False)

    def __post_init__(self) -> None:
        life = self.life
        (self.folder / "tank.yaml").write_text(yaml.safe_dump(life.tank, sort_keys=False, allow_unicode=True), encoding="utf-8")
        (self.folder / "journal.csv").write_text("when,kind,what,value,unit,where,note\n", encoding="utf-8")
        self.luck = random.Random(f"keeper {life.seed}")
        world = random.Random(f"world {life.seed}")
        self.room = Room(life.litres, life.way if life.way.startswith("live") else life.way.split("_")[0], life.rock_kg, 35.0, 25.5, world, 60.0,
                         tap_chlorine=0.6 if life.tank["water"]["source"] == "tap" else 0.0)
        salt = random.Random(f"salt {life.seed}")
        calcium, magnesium = salt.uniform(365, 470), salt.uniform(1150, 1450)
        for water in self.room.waters.values():
            water.calcium, water.magnesium = calcium, magnesium
        self.kits = Kits(life.kits, life.units, life.colour, random.Random(f"kits {life.seed}"))
        self.today = life.start
        self.door = Door(self.folder, life.start)
        self.minute = 0

    def live(self) -> list[Day]:
        """All days of this life."""
        return self.live_for(self.life.days)

    def live_for(self, number_of_days: int, first: int = 0) -> list[Day]:
        days = []
        for number in range(first, first + number_of_days):
            self.today = self.life.start + timedelta(days=number)
            day = Day(number, self.today, before=water_of(self.room), animals_before=len(self.room.stock.get("display", ())), proof_since=self.proof_since)
            self.minute = 0
            self._mishap(day)
            self._evening(day)
            before = {k: dict(s.harm) for k, s in self.room.stock.items()}
            self.room.live()
            see(day, self.room, before)
            days.append(day)
        return days

    # --- an evening

    def _evening(self, day: Day) -> None:
        for animal, count, _ in self.room.lost:
            day.losses.append((animal, count))
        away = any(a <= self.today <= b for a, b in self.life.away) or (self.life.temper == "forgetful" and self.luck.random() < 0.2)
        if away and self.page is not None:
            day.away = True
            day.pages.append(self.page)  # nobody looks: what was last seen stands
            self.room.feeding = 0.5 if len(self.room.stock["display"]) else 1.0
            if self.luck.random() < 0.6:
                self.room.display.top_up()
            return
        plan = self.door.open(self.today)
        page = Page.of(plan, alert_names())
        day.pages.append(page)
        plan = self._answer(self._look(plan, day), day)
        self._feed(page, day)
        tried: set[str] = set()
        for turn in range(ROUNDS):
            if turn > 0:
                plan = self.door.open(self.today)
                day.pages.append(Page.of(plan, alert_names()))
            if not self._round(plan, day, tried):
                break
        self.page = day.pages[-1]
        if self.life.temper == "impatient":
            self._hurry(plan, day)

    def _answer(self, plan: Plan, day: Day) -> Plan:
        """"Did they come?", asks the page of animals whose day has passed. What came was ticked, so the answer is a new day."""
        asked = [t for t in plan.tasks if t.state not in CLOSED and any(why.way == "asked" for why in t.yielded)]
        for task in asked:
            self._note_down(day, f"postpone {task.id}", self.door.postpone(task.id, max(self.today + timedelta(days=1), task.date or self.today)))
        return self.door.open(self.today) if asked else plan

    def _round(self, plan: Plan, day: Day, tried: set[str]) -> bool:
        """Go down the page. Whatever may change the page ends the round, and the keeper looks again; True if so."""
        jobs = [t for t in plan.tasks if t.state in URGENT and t.id not in tried]
        if self.minute <= 3 and any("challenge-test" in t.id or "proof-test" in t.id for t in jobs):
            self.minute = -30  # a proof is read within its day
        for place, task in enumerate(jobs):
            if task.id in tried:
                continue
            if task.reads:
                block = list(itertools.takewhile(lambda t: bool(t.reads), jobs[place:]))
                wrote = self._test(block, day, tried)
                for remedy in (t for t in block if not t.by_readings):
                    wrote = self._do(remedy, day) or wrote
                if wrote:
                    return True
                continue
            if day.minutes > MINUTES:
                continue
            tried.add(task.id)
            if self.life.temper == "forgetful" and self.luck.random() < 0.12 and not task.animals:
                continue
            if self._do(task, day) and (task.role in ("animals", "remedy") or task.writes):
                return True
        return False

    def _test(self, tests: list[Task], day: Day, tried: set[str]) -> bool:
        wrote = False
        for where in dict.fromkeys(t.where for t in tests):
            mine = [t for t in tests if t.where == where]
            tried.update(t.id for t in mine)
            day.minutes += sum(t.minutes for t in mine)
            if self.life.temper == "forgetful" and self.luck.random() < 0.1:
                continue
            # The page says of which readings a diluted sample is meant.
            mixed = [(t, step) for t in mine for step in all_words(t.steps, "metric") if "Mix one part of tank water" in step]
            diluted = {name for t, step in mixed for name in t.reads if len(t.reads) == 1 or name in step.lower()}
            day.tested += [t.key for t in mine]
            names = list(dict.fromkeys(name for t in mine for name in t.reads))
            water = self.room.waters[where]
            if any(step.startswith("Top up to the mark") for t in mine for step in all_words(t.steps, "metric")):
                water.top_up()
            told = {name: self.kits.read(name, water, where, name in diluted) for name in names}
            if any(t.key == "cycle/challenge-test" for t in mine):
                self.proof_since = day.proof_since = None
            day.readings.update({f"{where}:{name}": value for name, value in told.items()})
            wrote = self._note_down(day, "log " + " ".join(f"{n}={v}" for n, v in told.items()) + ("" if where == "display" else f" in {where}"),
                                    self.door.log(told, where, self._clock(), "diluted" if diluted else "")) or wrote
        return wrote

    def _do(self, task: Task, day: Day) -> bool:
        """Do a job and tick it. A job that is a look or a test of the eye may find a fault."""
        amount = None
        if task.writes and task.writes[0] == "changed_water" and not any(q.unit in ("L", "%") and q.value > 0 for _, q in task.amounts):
            amount = f"{self.room.waters.get(task.where, self.room.display).full / 10:.0f} L"
        if task.writes and task.writes[0] == "poured":
            amount = f"{self.life.litres:.0f} L"
        written = self.door.done(task.id, self._clock(), amount)
        if written.refused:
            day.said.append(f"refused: {task.id}: {written.refused}")
            return False
        self.room.tick(task.key)
        if asked := HALF_FOR.search(task.title):
            self.half_through = max(self.half_through, day.number + int(asked[1]) - 1)
        day.minutes += task.minutes
        if task.key == "cycle/challenge-dose":
            self.proof_since = day.number
        day.done.append((task.id, task.key))
        wrote = self._note_down(day, f"done {task.id} ({task.title})", written)
        return self._thermometer(task, day) or wrote

    def _thermometer(self, task: Task, day: Day) -> bool:
        """A daily look reads the thermometer too, and logs it where the page says so: "below 24 °C or above 28 °C"."""
        asked = next((found for step in all_words(task.steps, "metric") if (found := LOG_IT.search(step))), None)
        if asked is None or self.life.temper == "forgetful":
            return False
        low, high = (float(limit) for limit in asked.groups())
        if low <= self.room.waters[task.where].temperature <= high:
            return False
        told = self.kits.read("temperature", self.room.waters[task.where], task.where)
        day.readings[f"{task.where}:temperature"] = told
        return self._note_down(day, f"log temperature={told}", self.door.log({"temperature": told}, task.where, self._clock()))

    def _note_down(self, day: Day, what: str, written: Written) -> bool:
        if written.refused:
            day.said.append(f"refused: {what}: {written.refused}")
            return False
        day.said.append(what)
        for row in written.rows:
            day.rows.append(row)
            if row[0] not in ("done", "reading", "postponed", "skipped"):
                self.room.act(*row)
        return True

    def _clock(self) -> str | None:
        """Rows of one evening follow one another by minutes. The forgetful one now and then leaves the time out."""
        self.minute += 3
        if self.life.temper == "forgetful" and self.luck.random() < 0.15:
            return self.today.isoformat()
        return f"{18 + self.minute // 60:02d}:{self.minute % 60:02d}"

    # --- what the eye sees

    def _look(self, plan: Plan, day: Day) -> Plan:
        """What is seen is written down, and may change the page."""
        for animal, count, where in self.room.lost:
            self._note_down(day, f"note lost {animal} {count}", self.door.note("lost", animal, str(count), where=where, at=self._clock()))
        self.room.lost.clear()
        if self.room.smelly and day.number % 3 == 0:
            self._note_down(day, "note smell", self.door.note("event", "smell", at=self._clock(), where="curing" if self.room.waters["curing"].pool > 14 and not self.room.rock_in else "display"))
            day.fault = day.fault or "smell"
        if self.life.sees_film and self.room.display.film > 0.25 and self.room.light_hours and not self.film_seen:
            self.film_seen = True
            self._note_down(day, "note algae_seen", self.door.note("event", "algae_seen", at=self._clock()))
        return self.door.open(self.today) if day.rows else plan

    page: Page | None = None
    film_seen = struck = False
    proof_since: int | None = None
    half_through = -1

    def _feed(self, page: Page, day: Day) -> None:
        up = page.alerts
        self.room.feeding = 0.0 if any(a in up for a in NO_FOOD) else 0.5 if any(a in up for a in HALF_FOOD) or day.number <= self.half_through else 0.67 if any(a in up for a in LESS_FOOD) else 1.0

    # --- what should not happen

    def _hurry(self, plan: Plan, day: Day) -> None:
        """Once a week or so something is done before its day."""
        if self.luck.random() > 0.15:
            return
        ahead = [t for t in plan.tasks if t.state.value in ("planned", "waiting", "on_hold") and t.date and t.date <= self.today + timedelta(days=6) and not t.reads and t.phase != "site"]
        if ahead:
            task = self.luck.choice(ahead)
            day.early.append(task.key)
            self._do(task, day)

    def _mishap(self, day: Day) -> None:
        """The fault of this life, on its day; noted by the keeper unless he does not know of it."""
        if self.life.fault == "none" or self.struck or day.number < self.life.fault_day or not (self.room.filled or self.life.fault in ("leak_test", "typo")):
            return
        if self.life.fault in ("body", "ill") and not len(self.room.stock["display"]):
            return
        self.struck = True
        self.door.on = self.today
        day.fault, room, display = self.life.fault, self.room, self.room.display
        match self.life.fault:
            case "leak_test":
                self.door.note("failed", "leak-test/watch", at=self._clock())
            case "power_cut":
                display.flow, display.heater_state = False, "off"
                self._note_down(day, "note power_cut", self.door.note("event", "power_cut", at=self._clock()))
            case "heater_stuck" | "heater_off":
                display.heater_state = self.life.fault.removeprefix("heater_")
            case "filter_rinsed":
                display.y[5] *= 0.1
                display.y[6] *= 0.1
            case "salty_top_up":
                display.litres = display.full * 0.97
                display.salinity += 2.5
            case "double_dose":
                display.dose_ammonia(2.0 * display.litres if not len(room.stock["display"]) else 0.4 * display.litres)
            case "typo":
                with (self.folder / "journal.csv").open("a", encoding="utf-8") as file:
                    file.write(f"{self.today.isoformat()},reading,amonia,0..25,mg/L as N,display,\n")
            case "body":
                display.rot(60 + 0.4 * display.litres)
            case "smell":
                self._note_down(day, "note smell", self.door.note("event", "smell", at=self._clock()))
            case "ill":
                self._note_down(day, "note ill", self.door.note("event", "ill", at=self._clock()))
            case "stale_air":
                display.carbon_dioxide = 1800.0
