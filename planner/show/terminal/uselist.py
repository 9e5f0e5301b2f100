"""What the tank uses in a day, how well that is known, and the dose that follows, on a page and in the machine form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from planner.judge.dose_plan import DosePlan
from planner.judge.water_use import DailyUse, Missing, TopUp
from planner.show.words.words import Line, Page, command, day_words, days_words, listed
from planner.terms.amounts import format_amount
from planner.terms.records import Plan, Row

COLUMN = 14


@dataclass(frozen=True, slots=True)
class Uses:
    """All that `use` shows. `calcium`: (a day, standard error, whether its kit is in it). `skeletons`: whether a stony coral or a clam is in or
    to come. `nitrate_takes`: dKH a day that go into nitrate."""

    alkalinity: DailyUse
    calcium: tuple[float, float, bool] | None
    nitrate: DailyUse
    phosphate: DailyUse
    top_up: TopUp | None
    dose: DosePlan
    skeletons: bool = True
    nitrate_takes: float = 0.0


def use_lines(uses: Uses, plan: Plan, width: int, folder: str = "") -> tuple[Line, ...]:
    page = Page(width)
    page.heading(f"{plan.name}: what the tank uses", day_words(plan.on))
    page.gap()
    _told(page, "Alkalinity", _alkalinity(uses))
    _told(page, "Calcium", _calcium(uses))
    for label, found in (("Nitrate", uses.nitrate), ("Phosphate", uses.phosphate)):
        _told(page, label, _nutrient(found, uses.dose.share))
    _told(page, "Top-up", _top_up(uses.top_up, plan, folder))
    page.gap()
    _told(page, "Water changes", _changes(uses))
    _told(page, "Dose", _dose(uses, plan))
    return tuple(page.lines)


def _told(page: Page, label: str, sentences: list[str]) -> None:
    for n, sentence in enumerate(sentences):
        page.labelled(label if n == 0 else "", sentence, 0, COLUMN)


def _rate(dkh: float) -> str:
    return f"{abs(dkh):.2f} dKH a day"


def _alkalinity(uses: Uses) -> list[str]:
    found, goes_on = uses.alkalinity, uses.dose.goes_on
    fit, said = found.fit, list[str]()
    if found.verdict == "not_known" or fit is None:
        said.append(f"Not known. {_missing_words(found.missing)}".rstrip() if found.missing else "Not known yet: the readings still scatter more than the use. Test twice a week for two weeks.")
    else:
        low, high = (max(0.0, edge) for edge in fit.band)
        said.append({
            "known": f"The tank uses {_rate(fit.use)}. That is known.",
            "about": f"The tank seems to use about {_rate(fit.use)}. That is not sure enough to {'change the dose' if goes_on else 'dose'} by.",
            "none": "No use can be measured.",
            "adds": f"Something adds {_rate(fit.use)}. Look for a dose given twice, another batch of salt, or a kit that drifts.",
        }[found.verdict])
        if found.verdict in ("known", "about"):
            said.append(f"Four of five tanks that read like this use {low:.2f} to {high:.2f} dKH a day.")
            if uses.nitrate_takes and fit.use > 0:
                said.append(f"The filter takes about {min(fit.use, uses.nitrate_takes):.2f} of it as it makes nitrate.")
        said.append(_counted(found))
        if found.verdict == "about" and uses.dose.state in ("not_known", "dose"):
            said.append("Five readings over 14 days would settle it: test twice a week, at the same hour, before any dose.")
    if found.level is not None:
        said.append(f"Level now about {found.level[0]:.1f} dKH (give or take {2 * found.level[1]:.1f}).")
    if found.doubted:
        said.append("One reading lies far off the others and is not counted. Test again with a second kit.")
    if found.changes and found.new_water is None:
        said.append("Test the alkalinity of the new salt water once for each bucket of salt; without it the changes blur the figure.")
    return said


def _counted(found: DailyUse) -> str:
    assert found.fit is not None
    inputs = [f"{len(things)} {word}{'s' if len(things) != 1 else ''}" for things, word in ((found.doses, "dose"), (found.changes, "water change")) if things]
    counted = f" {listed(inputs)} counted in." if inputs else ""
    return f"From {found.fit.readings} readings over {days_words(round(found.fit.span))}.{counted}"


def _missing_words(missing: tuple[Missing, ...]) -> str:
    return " ".join(_missing(m) for m in missing)


def _missing(m: Missing) -> str:
    match m.gap:
        case "few_readings":
            return f"It takes {m.want:g} exact readings, and there {'is' if m.have == 1 else 'are'} {m.have:g}."
        case "short":
            return f"The readings cover {days_words(round(m.have))}; it takes {m.want:g}."
        case "no_line":
            return "The readings do not lie on one line. Test again with a second kit, and write down every dose and change."
        case "damaged":
            return f"Journal line {m.row.line if m.row is not None else '?'} cannot be read and may have been a reading, a dose or a change. Mend it first."
        case "strength_unknown":
            return f"How strong the dose in journal line {m.row.line if m.row is not None else '?'} was cannot be told. Write the rise (0.5 dKH), or the grams of bicarbonate or carbonate."
        case _:
            assert isinstance(m.row, Row)
            what = "the large water change" if m.row.kind == "changed_water" else "the step of salinity"
            return f"The count began anew with {what} of {day_words(m.row.day)}."


def _calcium(uses: Uses) -> list[str]:
    if not uses.skeletons:
        return ["Without stony corals and clams hardly any is used, and none is dosed."]
    if uses.calcium is None:
        return ["Follows from the use of alkalinity; a kit alone is too coarse to show it."]
    value, sd, with_kit = uses.calcium
    return [f"About {value:.1f} mg/L a day (give or take {2 * sd:.1f}), reckoned from alkalinity{' without what nitrate takes' if uses.nitrate_takes else ''}{' and from your own readings' if with_kit else ''}.",
            "Let the level steer: test once a month, and correct slowly."]


def _nutrient(found: DailyUse, share: float) -> list[str]:
    if found.verdict == "not_known" or found.fit is None:
        return [f"Not known. {_missing_words(found.missing)}"]
    made = -found.fit.use
    if found.verdict == "none":
        return [f"Level, as far as the kit can tell. {_counted(found)}"]
    said = [f"{'Rises' if made > 0 else 'Falls'} by {abs(made):.3g} mg/L a day beside the water changes. {_counted(found)}"]
    if made > 0 and share > 0:
        new = found.new_water or 0.0
        said.append(f"At this feeding and these changes it settles at about {new + 7 * made / share:.3g} mg/L just before a change.")
    elif made < 0 and not found.changes:
        said.append("A fall without changes is algae and corals taking it up, or the kit.")
    return said


def _top_up(found: TopUp | None, plan: Plan, folder: str) -> list[str]:
    if found is None:
        return [f"Not known. Write down what you top up on some days (`{command('note', folder, 'poured fresh 2L')}`)."]
    def litres(value: float) -> str:
        return format_amount(value, "L", plan.units)

    said = [f"Usually {litres(found.usual_l)} a day; more than {litres(found.most_l)} on two days running is out of the ordinary."]
    if found.salt_leaves:
        assert found.salinity_fall is not None
        said.append(f"Salinity falls by {found.salinity_fall[0]:.2f} ppt a day, so tank water is lost and not vapour alone: about {litres(found.lost_l)} a day. Look under the stand now, then at the skimmer cup and for salt spray.")
    elif found.high:
        said.append("The last two days were out of the ordinary" + (", and salinity is level: warmer or drier air, or a fan." if found.salinity_fall is not None else ". Measure salinity: a fall means a leak, a level reading means dry air. Look under the stand."))
    elif found.low:
        said.append("The last two days were less than half of it: look for a stuck top-up float, a pump that stands still, or damp air.")
    return said


def _changes(uses: Uses) -> list[str]:
    dose, fit = uses.dose, uses.alkalinity.fit
    said = [f"Changes of {dose.share * 100:.0f} % a week make up for {dose.held_use:.2f} dKH a day."]
    if uses.alkalinity.verdict in ("known", "about") and fit is not None and dose.trough is not None:
        if fit.use <= dose.held_use:
            said.append("They alone hold alkalinity.")
        else:
            said.append(f"They alone do not hold it: alkalinity would sink to {max(0.0, dose.trough):.1f} dKH.")
    return said


def _dose(uses: Uses, plan: Plan) -> list[str]:
    dose = uses.dose

    def grams(value: float) -> str:
        return format_amount(value, "g", plan.units)

    match dose.state:
        case "not_known":
            return ["None. Nothing is dosed before the use is known."]
        case "nothing_used":
            return ["None needed."]
        case "changes_hold":
            return [f"None needed: with the changes alone alkalinity stays at {dose.lowest:g} dKH or more."]
        case "lift_first":
            return ["Not yet. Lift the level first, in the small daily steps of the plan; then hold it."]
        case "stopped":
            stop = "None today." if dose.stops and all(kind in ("large_change", "test_first") for kind, _ in dose.stops) else "Stop dosing."
            return [f"{stop} {' '.join(_stop(kind, name) for kind, name in dose.stops)}"]
        case _:
            assert dose.ahead is not None
            how_long = "The last dose goes on until tests show the use" if dose.goes_on else "For seven days"
            said = [f"{how_long}: {grams(dose.bicarbonate_g)} of sodium bicarbonate a day, for {dose.dose_dkh:.2f} dKH. Dissolve it in a little pure water, a cup at most, and pour it slowly into the flow in the morning. Top up that much less."]
            if dose.calcium_g:
                said.append(f"With it calcium: {grams(dose.calcium_g)} of calcium chloride dihydrate a day, or {grams(dose.calcium_anhydrous_g)} if the label says anhydrous. If it names neither, do not dose it. Half an hour and a metre apart from the bicarbonate.")
            elif uses.skeletons:
                said.append("No calcium with it: nitrate takes no calcium, or no reading of calcium is in the journal yet. Test it.")
            if dose.goes_on:
                pass
            elif dose.given_dkh:
                said.append(f"Given so far: {dose.given_dkh:.2f} dKH a day. A dose changes by a quarter a week at most.")
            else:
                said.append("This is less than the tank uses, on purpose: the first week shows whether the figure is right.")
            if dose.halved:
                said.append("Half of what it would be, because the last test is old. Test today.")
            if dose.capped:
                said.append("The tank uses more than a beginner should dose by hand. Ask an experienced keeper about a dosing pump.")
            said.append(f"In a week about {dose.ahead[1]:.1f} dKH ({dose.ahead[0]:.1f} to {dose.ahead[2]:.1f}). Test at the same hour, before the dose, on the days that the plan asks for.")
            if dose.chalk:
                said.append("Calcium, alkalinity and pH together are near the point at which chalk falls out. Look for white crust on heater and pumps.")
            if dose.test_early:
                said.append("It may be low before that, so the plan asks for a test sooner. Do not dose more.")
            return said


def _stop(kind: str, name: str) -> str:
    return {
        "no_reading": "The last test of alkalinity is two weeks old or more. Test first.",
        "alarm": f"An alarm goes first: {name}.",
        "large_change": "A large water change was made today; test tomorrow.",
        "test_first": "Alkalinity was not tested since the last large water change. Test first.",
        "too_high": "The level would rise beyond its aim.",
        "chalk": "With this calcium and pH, chalk would fall out. Let pH and calcium come down first.",
    }[kind]


def use_document(uses: Uses, plan: Plan) -> dict[str, Any]:
    """The machine form. Rates are a day; below zero it rises."""
    dose = uses.dose
    return {
        "on": plan.on.isoformat(),
        "uses": [_use_document(found, unit) for found, unit in ((uses.alkalinity, "dKH"), (uses.nitrate, "mg/L as NO3"), (uses.phosphate, "mg/L"))],
        "calcium": None if uses.calcium is None else {"use": round(uses.calcium[0], 4), "standard_error": round(uses.calcium[1], 4), "unit": "mg/L", "own_readings": uses.calcium[2]},
        "top_up": None if uses.top_up is None else {
            "usual_l": round(uses.top_up.usual_l, 3), "most_l": round(uses.top_up.most_l, 3), "high": uses.top_up.high, "low": uses.top_up.low, "salt_leaves": uses.top_up.salt_leaves,
            "lost_l": round(uses.top_up.lost_l, 3)},
        "water_changes": {"share_a_week": round(dose.share, 4), "hold_dkh_a_day": round(dose.held_use, 4), "trough_dkh": None if dose.trough is None else round(dose.trough, 3)},
        "dose": {"state": dose.state, "dkh_a_day": round(dose.dose_dkh, 4), "bicarbonate_g": round(dose.bicarbonate_g, 3), "calcium_chloride_dihydrate_g": round(dose.calcium_g, 3),
                 "given_dkh_a_day": round(dose.given_dkh, 4), "stops": [kind for kind, _ in dose.stops], "level_in_a_week": None if dose.ahead is None else [round(x, 3) for x in dose.ahead]},
    }


def _use_document(found: DailyUse, unit: str) -> dict[str, Any]:
    fit = found.fit
    return {
        "name": found.name, "said": found.verdict, "unit": unit, "use": None if fit is None else round(fit.use, 4), "low": None if fit is None else round(fit.band[0], 4),
        "high": None if fit is None else round(fit.band[1], 4), "readings": len(found.samples), "doses": len(found.doses), "changes": len(found.changes),
        "missing": [{"what": m.gap, "have": m.have, "want": m.want, "line": m.row.line if m.row is not None else None} for m in found.missing],
        "level": None if found.level is None else {"value": round(found.level[0], 3), "standard_error": round(found.level[1], 3)},
    }


__all__ = ["Uses", "use_document", "use_lines"]
