"""Words that the terminal faces share: dates, windows, wrapped lines and the page they stand on.

A page is lines of spans; a span names a role (`title`, `strong`, `soft`, `alarm`), never a colour. What a role looks
like is settled where the page meets a terminal; the plain text of a page says everything without it.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from planner.terms.amounts import listed as listed  # the faces take it from here
from planner.terms.days import MONTH_NAMES as MONTH_NAMES
from planner.terms.days import MONTHS as MONTHS
from planner.terms.days import day_words as day_words
from planner.terms.days import short_day as short_day
from planner.terms.records import Task, Window

Role = Literal["", "title", "strong", "soft", "alarm"]
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:L|mL|kg|g|mg|cm|mm|mA|kN|in|lb|oz|fl|gal|ppt|dKH|min|h|d|days?|weeks?|W|%|°)(?:\b|[/°C ,.;:)]|$))")
_COMMAND = re.compile(r"`newtank [^`]{1,40}`|(?<=: )newtank [^`]{1,50}$")
_NBSP = "\u00a0"
_STEERING = dict.fromkeys((*range(32), *range(127, 160), *range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x2028, 0x2029, 0xFEFF), "\ufffd") | {9: " ", 10: "\n"}
"""Signs that steer a terminal or turn the order of what follows around, each with a sign that only shows."""


@dataclass(frozen=True, slots=True)
class Span:
    text: str
    role: Role = ""


Line = tuple[Span, ...]


def visible(text: str) -> str:
    """The text with nothing in it that a terminal would obey: names and notes are other people's words. As long as it was,
    so that a mark below a line still points at its place; line ends stay."""
    return text if text.isascii() and text.isprintable() else text.translate(_STEERING)


def bare_day(day: date, on: date) -> str:
    """`2 Mar`, with the year where it is not that of `on`."""
    return short_day(day, on).partition(" ")[2]


def window_words(window: Window, on: date, reason: str = "", word: str = "likely") -> str:
    """`likely Mon 2 Mar (quick 27 Feb, slow 9 Mar)`; the three in one where they agree; why there is none."""
    if window.likely is None:
        return "no date can be given" + (f": {reason}" if reason else "")
    likely = short_day(window.likely, on)
    if window.earliest == window.likely == window.latest:
        return f"{word} {likely}"
    quick = "no date" if window.earliest is None else bare_day(window.earliest, on)
    slow = "no date" if window.latest is None else bare_day(window.latest, on)
    return f"{word} {likely} (quick {quick}, slow {slow})"


def span_words(window: Window, months: Sequence[str] = MONTHS, on: date | None = None) -> str:
    """`1 to 10 Dec`, `13 Dec to 6 Feb`, from the quick to the slow end; with `on` also the year where it is another one."""
    def told(day: date | None, month: bool = True) -> str:
        if day is None:
            return "?"
        year = f" {day.year}" if on is not None and day.year != on.year else ""
        return f"{day.day} {months[day.month - 1]}{year}" if month else str(day.day)

    first, last = window.earliest, window.latest
    same = first is not None and last is not None and (first.year, first.month) == (last.year, last.month)
    return f"{told(first, not same)} to {told(last)}"


def takes_words(minutes: int) -> str:
    """`90 min`, `2.5 h`."""
    return f"{minutes} min" if minutes <= 90 else f"{round(minutes / 30) / 2:g} h"


def late_words(task: Task, on: date) -> str:
    """How late a job is, in days up to four weeks: it may be new to the plan since the list changed, and nobody counts further. An animal
    is never late."""
    days = task.days_late(on) if task.role != "animals" else 0
    return "" if not days else f"{days_words(days)} late" if days <= 28 else "late"


def days_words(count: int) -> str:
    """`1 day`, `3 days`."""
    return f"{count} day{'s' if count != 1 else ''}"


def away_words(day: date, on: date) -> str:
    """How far a day is from `on`: `today`, `tomorrow`, `in 5 days`, `2 days ago`."""
    days = (day - on).days
    return {0: "today", 1: "tomorrow", -1: "yesterday"}.get(days) or (f"in {days_words(days)}" if days > 0 else f"{days_words(-days)} ago")


NAMES = {
    "tissue_every": "time between two reminders of the tissue", "leak_watch_old": "leak watch of a second-hand or resealed tank",
    "waterline": "from the rim down to the water", "curing_water": "water in the rock's bin", "rock_bin_size": "size of the rock's bin", "cycle_test_every": "days between two tests while the filter grows",
    "ammonia_pause": "no more ammonia is given while ammonia reads", "nitrite_pause": "no more ammonia is given while nitrite reads",
    "batch_water": "one batch of water", "batch_nine_tenths": "nine tenths of the salt for one batch",
    "batch_trim_1ppt": "salt that lifts one batch by 1 ppt", "big_change_batch": "one batch of the change", "big_change_batch_salt": "salt for that batch",
    "net_volume": "water in the tank", "gross_volume": "size of the box", "stand_weight": "stand and equipment", "leak_water": "fresh water for the leak test", "water_first_fill": "water for the first fill",
    "salt_first_fill": "salt for the first fill", "salt_trim_1ppt": "salt for 1 ppt more",
    "water_two_months": "water for two months", "water_to_start": "water to begin with", "rock_water": "water for the rock's bin", "container_water": "in containers", "reserve_salt": "salt for the reserve", "top_up_two_months": "of that pure, for topping up", "nitrite_left": "nitrite left", "fed_again_at": "most ammonia at which the filter is fed again", "nitrite_clear": "most nitrite that counts as clear", "salt_two_months": "salt for two months", "reserve_water": "salt water in reserve", "ro_days": "RO unit runs for",
    "mixing_batches": "batches for the first fill", "ammonia_dose": "ammonium chloride", "ammonia_redose": "ammonium chloride", "quarantine_ammonia": "ammonium chloride", "quarantine_feed_ammonia": "ammonium chloride", "quarantine_new_water": "water to change", "challenge_dose": "ammonium chloride",
    "ammonia_check": "what the kit should show", "ammonia_total": "ammonium chloride to buy", "ammonia_dose_mg": "rise of ammonia", "bicarbonate_1dkh": "sodium bicarbonate for 1 dKH", "bicarbonate_now": "sodium bicarbonate",
    "alkalinity_budget": "alkalinity that the cycle uses", "big_change": "water to change", "big_change_batches": "batches", "big_change_changes": "changes of water", "bin_heater": "heater of the bin", "big_change_mixes": "batches for one change", "big_change_now": "water for one change", "batch_step": "the days that one batch takes", "last_batch_days": "the days that the other batches take", "big_change_step": "the days that one batch takes", "big_change_ready": "the days that its batches take", "big_change_mixed": "batches that stand ready", "big_change_left": "days from the next batch or change on", "big_change_left_slow": "days from there at most",
    "big_change_litres": "water to change in all", "weekly_change": "water to change", "weekly_salt": "salt for it", "salt_each": "salt for 10 L, or for a gallon",
    "emergency_change": "water to change", "ammonia_change": "water to change", "nitrite_change": "water to change", "nitrate_change": "water to change", "nitrate_changes": "such changes in all", "alkalinity_change": "water to change", "half_change": "water to change", "least_change": "least water to change", "heater_total": "heat needed on a cold night", "heater_each": "each of two heaters", "evaporation_day": "evaporation",
    "top_up_reservoir": "top-up container at most", "warm_up": "time to warm up", "circulation": "flow in the tank", "skimming": "flow through the skimmer",
    "crew_first": "first half of the crew", "crew_second": "second half of the crew", "monthly_power": "power in a month", "target_sg": "specific gravity",
    "first_shopping": "the days up to the shopping", "first_batch_days": "the days that the first batch takes",
    "calcium_day": "calcium chloride dihydrate", "calcium_day_anhydrous": "or anhydrous calcium chloride", "calcium_rise": "rise of calcium", "calcium_days": "daily steps",
    "magnesium_day": "magnesium chloride hexahydrate", "magnesium_day_sulfate": "magnesium sulfate heptahydrate", "magnesium_rise": "rise of magnesium", "magnesium_days": "daily steps",
    "water_co2": "carbon dioxide in the water", "ice_hour": "ice for an hour", "salt_down_1ppt": "water to swap for pure water", "bicarbonate_small": "sodium bicarbonate for one step", "use_bicarbonate": "sodium bicarbonate for a day", "antidote_10l": "sodium thiosulfate pentahydrate for 10 L of tap water", "lime_day_most": "lime in a day at most", "carbon_charge": "carbon", "light_steps": "steps of light",
    "challenge_least": "least proof dose", "challenge_full": "full proof dose", "challenge_hours": "time in which a proof dose must be gone", "challenge_pause": "pause between proof doses",
    "redose_below": "ammonia below which the filter is fed again", "redose_every": "days between two doses", "idle_days": "days that the filter may go without food",
    "alarm_daily": "days between two rounds of an alarm", "care_daily": "days between two looks", "food_minutes": "time in which a meal is eaten", "top_up_every": "days between two top-ups",
    "challenge_open": "time after a proof dose in which its test is asked for", "clean_days": "days of clear tests that stand for the proof", "clean_apart": "time between two clear tests",
    "standing_above": "ammonia that should not stand for days", "standing_apart": "time between two tests that take a proof back", "chlorine_none": "chlorine allowed",
    "mix_apart": "time between two tests of new water", "mix_after_ready": "time from ready water to the salt", "mix_first_look": "time until you look for salt on the bottom", "mix_wait": "time that the salt mixes before a test",
    "salt_first_share": "share of the salt that goes in first", "salt_per_litre_default": "salt mix in a finished litre at 35 ppt", "evaporation_drift": "rise of salinity with 1 % of the water lost", "top_up_drop": "most that the whole top-up may lower salinity",
    "alarm_ammonia_twice": "ammonia that counts on two days", "alarm_ammonia_once": "ammonia that counts at once", "salt_band_low": "salinity without animals, from", "salt_band_high": "salinity without animals, up to",
    "reef_salinity_low": "salinity for animals, from", "reef_salinity_high": "salinity for animals, up to", "floor_design_low": "load that homes are designed for, from", "floor_design_high": "load that homes are designed for, up to",
    "sg_low": "specific gravity from", "sg_high": "specific gravity up to",
}


def plain_name(name: str) -> str:
    """A figure's or a number's name as words."""
    return NAMES.get(name) or name.replace("_", " ").replace("-", " ")


def command(*words: str) -> str:
    """A command as it is typed; empty words fall out, such as the folder for who works in it."""
    return " ".join(word for word in ("newtank", *words) if word)


def uncapped(title: str) -> str:
    """A title in the middle of a sentence: `The RCD tripped` begins small, `RCD` and `pH` stay."""
    return title[:1].lower() + title[1:] if title[1:2].islower() or title[1:2] == " " else title


def unbroken(text: str) -> str:
    """The text with a number and its unit, and a command, held together by a space that never breaks."""
    return _COMMAND.sub(lambda found: found[0].replace(" ", _NBSP), _NUMBER_AND_UNIT.sub(_NBSP, text))


def wrap(text: str, width: int, first: str = "", later: str | None = None) -> list[str]:
    """Text broken at `width` columns, with a number and its unit kept on one line. Never a line longer than `width`."""
    later = " " * len(first) if later is None else later
    held = unbroken(" ".join(text.split()))
    broken = textwrap.wrap(held, max(width, len(first) + 12), initial_indent=first, subsequent_indent=later, break_on_hyphens=False, break_long_words=True)
    return [line.replace(_NBSP, " ") for line in broken] or [first.rstrip()]


@dataclass
class Page:
    """Lines in the making, none longer than `width`."""

    width: int
    lines: list[Line] = field(default_factory=list)

    def gap(self) -> None:
        """One empty line, never two and never first."""
        if self.lines and self.lines[-1] != ():
            self.lines.append(())

    def say(self, text: str, role: Role = "", indent: int = 0) -> None:
        """A paragraph."""
        self.lines += [(Span(line, role),) for line in wrap(text, self.width, " " * indent)]

    def labelled(self, label: str, text: str, indent: int = 0, column: int = 10, role: Role = "", label_role: Role = "soft", hang: int = 0) -> None:
        """A label, and its text in a column of its own; the label is left out where it is empty."""
        lead = " " * indent + label.ljust(column)
        if label and len(label) >= column:
            lead += " "
        for n, line in enumerate(wrap(text, self.width, " " * len(lead), " " * (len(lead) + hang))):
            self.lines.append((Span(lead, label_role), Span(line[len(lead):], role)) if n == 0 else (Span(line, role),))

    def item(self, mark: str, text: str, right: str = "", indent: int = 0, role: Role = "", right_role: Role = "") -> None:
        """A marked line with a word at its right edge; the word goes onto a line of its own where both do not fit."""
        lead = " " * indent + mark + " "
        room = self.width - len(right) - 2 if right else self.width
        if right and room < self.width // 2:
            room = self.width
        lines = wrap(text, room, lead)
        for n, line in enumerate(lines):
            if n == 0 and right and room < self.width:
                self.lines.append((Span(line.ljust(self.width - len(right)), role), Span(right, right_role)))
            else:
                self.lines.append((Span(line, role),))
        if right and room == self.width:
            self.say(right, right_role, len(lead))

    def heading(self, text: str, right: str = "") -> None:
        self.gap()
        lines = wrap(text, self.width - len(right) - 2 if right else self.width)
        self.lines.append((Span(lines[0], "title"), Span(right.rjust(self.width - len(lines[0])), "soft")) if right else (Span(lines[0], "title"),))
        self.lines += [(Span(line, "title"),) for line in lines[1:]]

    def numbered(self, texts: Iterable[str], indent: int = 0) -> None:
        """Steps, counted."""
        for n, text in enumerate(texts, 1):
            lead = " " * indent + f"{n}. "
            self.lines += [(Span(line),) for line in wrap(text, self.width, lead)]


def plain_text(lines: Iterable[Line]) -> str:
    """The page without any styling, no spaces at line ends."""
    return "\n".join("".join(span.text for span in line).rstrip() for line in lines)
