"""One life as a diary: what the page said, what the keeper did, and what the water was."""

from __future__ import annotations

from collections.abc import Iterator

from tests.keepers.lives import Life
from tests.keepers.offence import Offence
from tests.keepers.record import Day, Page


def diary(life: Life, days: list[Day], offences: list[Offence]) -> Iterator[str]:
    """A paragraph a day."""
    yield f"Life {life.seed}: {life.name}. {life.litres:.0f} L of water, {life.rock_kg:g} kg of rock."
    for day in days:
        yield ""
        yield f"{day.on:%a %Y-%m-%d}, day {day.number}" + (" (nobody at home)" if day.away else "") + (f" [{day.fault}]" if day.fault else "")
        yield from (f"  page  {line}" for line in _said(day.pages[0]))
        for later in day.pages[1:]:
            if new := [j.title for j in later.jobs if j.id not in {k.id for k in day.pages[0].jobs}]:
                yield f"  then  {'; '.join(new)}"
        yield from (f"  does  {said}" for said in day.said)
        water = day.water
        yield (f"  tank  ammonia {water['tan']:.2f}, nitrite {water['nitrite']:.2f} mg/L as N, nitrate {water['nitrate']:.0f} mg/L, alkalinity {water['alkalinity']:.1f} dKH, pH {water['ph']:.2f}, "
               f"{water['salinity']:.1f} ppt, {water['temperature']:.1f} C, {day.animals} animals" + (f", {_left(day)}" if day.proof_left < 9 else ""))
        if day.harm:
            yield "  HARM  " + ", ".join(f"{cause} {hours:.0f} animal-hours" for cause, hours in day.harm.items())
        yield from (f"  WRONG {o.kind}: {o.what}: {o.said}" for o in offences if o.day == day.number)


def _said(page: Page) -> Iterator[str]:
    if page.alerts:
        yield "alarm " + ", ".join(page.alerts)
    for state in ("late", "due"):
        if jobs := [j.title for j in page.jobs if j.state == state]:
            yield f"{state}: {'; '.join(jobs)}"
    if not page.jobs:
        yield f"nothing to do; the next dated work is {page.next_day or 'not dated'}"
    for gate, because, doubt in page.holds:
        yield f"hold at {gate}{' (a test is missing)' if doubt else ''}: {because}"
    if page.needs:
        yield "waiting for " + page.needs[0]


def _left(day: Day) -> str:
    return f"of a proof dose {day.proof_left:.2f} would be left tomorrow"
