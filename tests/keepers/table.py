"""The keepers' own table of what may not stand on one page, or be done in one day.

It follows reef practice: one water change a day, no ammonia where animals are or are about to be, one group of newcomers a
day into water that tests clear, ions and alkalinity apart from large changes, nothing new while a remedy is open (common
practice, no source). The engine's rules are not asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from tests.keepers.animals import group_of
from tests.keepers.offence import COLLISION, Offence
from tests.keepers.record import Day, Job, Page

CLEAN_TASKS = ("care/pumps",)
SALTS_LOW = ("alkalinity-low", "calcium-low", "magnesium-low")
"""Alarms of a salt that corals and clams use: they keep those out, and no fish."""
SALT_RIGHT = (34.2, 35.8)
"""ppt between which nothing is left to correct (common practice, no source)."""
NO_FOOD = re.compile(r"(?:^|\. )(?:Give no food|Feed nothing|Stop feeding|Do not feed)[^.]*", re.I)
FOOD = re.compile(r"(?:^|\. )(?:Feed (?!less|again only)[^.]*|Give (?:small|the first) (?:small )?meals?[^.]*|Give (?:half|the usual)[^.]*food[^.]*)", re.I)


def collisions(day: Day) -> list[Offence]:
    """Orders of one page that cannot be obeyed beside one another, each pair once a day."""
    found: dict[str, str] = {}
    for page in day.pages:
        for what, said in page_collisions(page, day):
            found.setdefault(what, said)
    dosed = [r for r in day.rows if r[:2] == ("dosed", "ammonia") and r[4] == "display"]
    came = [r for r in day.rows if r[0] in ("added", "moved") and r[4] == "display"]
    if not day.early:
        if len(dosed) > 1:
            found.setdefault("ammonia dosed twice in a day", " and ".join(f"{r[2]} {r[3]}" for r in dosed))
        if dosed and came:
            found.setdefault("ammonia and an arrival in a day", f"{dosed[0][2]} {dosed[0][3]} and {came[0][1]}")
        if len({_family(group_of(r[1])) for r in came}) > 1:
            found.setdefault("newcomers of two groups in a day", ", ".join(r[1] for r in came))
        changed = [r for r in day.rows if r[0] == "changed_water" and r[4] == "display" and not any(k.startswith("rock/") for _, k in day.done)]
        if len(changed) > 1 and day.water.get("tan", 0) < 1.0 and not any(a.startswith("ammonia-three") for a in day.pages[0].alerts):
            found.setdefault("two water changes in a day", " and ".join(f"{r[2]} {r[3]}" for r in changed))
    return [Offence(COLLISION, what, day.number, said) for what, said in found.items()]


def page_collisions(page: Page, day: Day) -> Iterator[tuple[str, str]]:
    """The table: pairs of orders on one page."""
    display = [j for j in page.jobs if j.where == "display"]
    doses = [j for j in display if j.writes == "dosed:ammonia"]
    changes = [j for j in display if j.writes == "changed_water:water" and j.phase != "rock"]
    arrivals = [j for j in display if j.role == "animals"]
    alkalinity = [j for j in display if j.writes == "dosed:bicarbonate"]
    remedies = [j for j in display if j.role == "remedy"]
    poison = [a for a in page.alerts if a.startswith(("ammonia-", "nitrite")) and a not in ("ammonia-dosed", "nitrite-off-scale")]
    stocked = day.animals_before > 0
    if doses and stocked:
        yield "ammonia dose with animals in", f"'{doses[0].title}' with {day.animals_before} animals"
    if doses and arrivals:
        yield "ammonia dose on the day of an arrival", f"'{doses[0].title}' and '{arrivals[0].title}'"
    if doses and page.arrivals_tomorrow:
        yield "ammonia dose on the day before an arrival", f"'{doses[0].title}' and tomorrow {page.arrivals_tomorrow[0]}"
    if len(doses) > 1:
        yield "two ammonia doses on a page", " and ".join(f"'{j.title}'" for j in doses)
    if doses and any(j.key == "cycle/pause" for j in display):
        yield "ammonia dose beside 'leave out the ammonia'", f"'{doses[0].title}'"
    if doses and changes:
        yield "ammonia dose beside a water change", f"'{doses[0].title}' and '{changes[0].title}'"
    if len(changes) > 1:
        yield "two water changes on a page", " and ".join(f"'{j.title}' ({j.litres:.0f} L)" for j in changes)
    if changes and any(j.litres > 0.52 * page.volume > 0 for j in changes) and stocked:
        yield "a change above half with animals in", f"'{changes[0].title}' ({changes[0].litres:.0f} L of {page.volume:.0f})"
    # A trace of nitrite that is being tested again is far from any harm (clownfish bear up to 109 mg/L as N for four days: Medeiros 2014,
    # dissertation, FURG, abstract), and corals use up alkalinity meanwhile. The two weeks after an alarm follow two tests at the kit's zero: then
    # pH makes nothing poisonous (common practice, no source).
    if alkalinity and (barred := [a for a in poison if a not in ("nitrite-doubt", "ammonia-after")]):
        yield "alkalinity dose under an ammonia or nitrite alarm", f"'{alkalinity[0].title}' under {barred[0]}"
    if len(alkalinity) > 1:
        yield "two alkalinity doses on a page", " and ".join(j.id for j in alkalinity)
    if alkalinity and any(j.litres >= 0.2 * page.volume > 0 for j in changes):
        yield "alkalinity dose beside a large change", f"'{alkalinity[0].title}' and '{changes[0].title}'"
    # Water of the right salt whose alarm waits for its second good test alone: what alkalinity reads there is no fault of the salt.
    off = not SALT_RIGHT[0] < day.before["salinity"] < SALT_RIGHT[1] or any(j.phase.startswith("salinity") for j in remedies)
    if alkalinity and off and any(a.startswith("salinity") for a in page.alerts):
        yield "alkalinity dose while salinity is off", f"'{alkalinity[0].title}'"
    if len({_family(group_of(a)) for j in arrivals for a, _ in j.animals} | {_family(_phase_group(j)) for j in arrivals if not j.animals}) > 1:
        yield "newcomers of two groups on a page", " and ".join(f"'{j.title}'" for j in arrivals)
    if len(arrivals) > 1:
        yield "two arrivals on a page", " and ".join(f"'{j.title}'" for j in arrivals)
    # What keeps only some corals of the list away harms nobody who comes.
    wrong = [a for a in page.alerts if a != "nitrate-waits" and not a.startswith("quarantine-") and ((not a.endswith("-notice") and a not in SALTS_LOW) or any(_family(group_of(a)) == "corals" for j in arrivals for a, _ in j.animals))]
    if arrivals and (wrong or any(j.key.startswith(("fish/illness",)) for j in remedies)):
        yield "an arrival under an alarm", f"'{arrivals[0].title}' under {', '.join(wrong) or 'illness'}"
    if poison and any(j.key in CLEAN_TASKS for j in display):
        yield "filter cleaned under an ammonia or nitrite alarm", f"{next(j.title for j in display if j.key in CLEAN_TASKS)} under {poison[0]}"
    if changes and _proof_runs(day):
        yield "water change while a proof dose is running", f"'{changes[0].title}'"
    if len(remedies) > 3:
        yield "more than three remedies on a page", ", ".join(f"'{j.title}'" for j in remedies)
    hungry = [(j, m.group(0).strip(". ")) for j in display if (m := NO_FOOD.search(j.text))]
    fed = [(j, m.group(0).strip(". ")) for j in display if (m := FOOD.search(j.text)) and j.key not in {h.key for h, _ in hungry} and stocked]
    if hungry and fed:
        yield "feed and feed nothing", f"'{hungry[0][1]}' ({hungry[0][0].id}) and '{fed[0][1]}' ({fed[0][0].id})"


def _family(group: str) -> str:
    return {"shrimp": "crew", "soft": "corals", "stony": "corals"}.get(group, group)


def _phase_group(job: Job) -> str:
    return {"crew": "crew", "corals": "corals"}.get(job.phase, "fish")


def _proof_runs(day: Day) -> bool:
    return day.proof_since is not None and day.number - day.proof_since <= 1


def untested_arrivals(days: list[Day], clear: dict[str, float]) -> list[Offence]:
    """Animals that came to the display by the page although the last ammonia or nitrite test showed something, or was older
    than the day before. `clear` is what counts as nothing on the kit's own scale."""
    found = []
    last: dict[str, tuple[int, str]] = {}
    for day in days:
        told: set[str] = set()
        offered = [j for p in day.pages for j in p.jobs if j.role == "animals" and j.where == "display" and not day.away]
        if offered and not all(any(r[0] == "reading" and r[1] == name and r[4] == "display" for r in day.rows) for name in ("ammonia", "nitrite")):
            found.append(Offence(COLLISION, "an arrival on the page of a day without a test", day.number, f"'{offered[0].title}' is {offered[0].state}; the last test was on day {last.get('nitrite', (-99,))[0]}"))
        for kind, what, value, _, where in day.rows:
            if kind == "reading" and where == "display":
                last[what] = (day.number, value)
            if kind not in ("added", "moved") or where != "display" or day.early:
                continue
            for name in ("ammonia", "nitrite"):
                at, shown = last.get(name, (-99, "nothing"))
                if at < day.number - 1:
                    wrong, said = "an arrival without a test of that day or the day before", f"{what}: {name} was last tested on day {at}"
                elif shown.startswith(">") or float(shown.lstrip("<")) > clear[name] + 1e-6:
                    wrong, said = f"an arrival although {name} shows", f"{what} came; {name} read {shown} on day {at}"
                else:
                    continue
                if wrong not in told:
                    told.add(wrong)
                    found.append(Offence(COLLISION, wrong, day.number, said))
    return found
