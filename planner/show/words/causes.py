"""Causes in words: one row for each kind, with its values in braces and amounts in the buyer's units."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from string import Formatter

from planner.plan.texts import multiplied, typed
from planner.show.words.conditions import condition_words
from planner.show.words.words import days_words, listed
from planner.terms.amounts import format_amount, three_digits
from planner.terms.causes import Amount, Cause, Span, Value
from planner.terms.texts import TANK_FILE, Either, Part, Text, either, joined, parts_of

PROVISIONAL = frozenset({"open_guards", "shut_gate", "awaits_test"})
"""What a date still hangs on."""
FEW = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
SHARES = {1.0: "all", 3 / 4: "three quarters", 2 / 3: "two thirds", 1 / 2: "half", 1 / 3: "a third", 1 / 4: "a quarter"}
INTERNAL = {"L": ("L", 1.0), "cm": ("cm", 1.0), "kg": ("g", 1000.0), "°C": ("°C", 1.0)}
"""Units of causes that have another name in US units: the internal unit, and how many of it one is."""

WORDS: dict[str, str] = {
    # --- why there is no date, or one that may move
    "undescribed": joined("{key} is missing from ", TANK_FILE),
    "beyond_horizon": "no date within two years",
    "no_fish_wished": "your wish list has no fish for this tank",
    "awaits_test": "It waits for {test}.",
    "test_on": "the test of {readings} on {day}",
    "test_today": "today's test of {readings}",
    "shut_gate": "The date may move. It waits until your ticks and tests show this: {gate}.",
    "on_hold": "On hold: {because}",
    # --- why there is no daily dose any more
    "dose_rests_not_known": "No daily dose of alkalinity today: the use is not known. Test alkalinity.",
    "dose_rests_nothing_used": "No daily dose of alkalinity today: your tests show no use of it.",
    "dose_rests_changes_hold": "No daily dose of alkalinity today: with the water changes alone it stays at {lowest} or more.",
    "dose_rests_lift_first": "No daily dose of alkalinity today: it is too low, and is raised in daily steps first.",
    "dose_rests_no_reading": "No daily dose of alkalinity today: the last test is too old. Test alkalinity.",
    "dose_rests_too_high": "No daily dose of alkalinity today: it is about {level}, and would rise above its aim. The dose comes again once it has sunk.",
    "dose_rests_large_change": "No daily dose of alkalinity today: a large change moves it by itself. Test it tomorrow, then dose by that test.",
    "dose_rests_chalk": "No daily dose of alkalinity today: with this calcium and pH chalk would fall out.",
    # --- why a stage is on its day
    "then_released": "This day, because {why}.",
    "then_gap": "This day, because {days} days and clean tests must lie between two stages.",
    "then_large_step_before": "This day, because the last stage was a large step for the filter. {days} days and clean tests must follow it.",
    "then_quarantine": "This day, because its fish spend {days} days in quarantine.",
    "then_quarantine_after_batch": "This day, because its fish spend {days} days in quarantine, and the last batch must leave first.",
    "then_first_left": "This day, because it is the first one left.",
    "asks_for_age": "the {name} needs a tank that has held salt water for {days} days",
    "group_waits": "{group} wait until the tank has been open for animals for {days} days",
    "group_soft_coral": "soft corals", "group_large_polyp": "large-polyp corals", "group_small_polyp": "small-polyp corals", "group_anemone": "anemones",
    "group_clam": "clams", "group_dragonet": "dragonets", "animals_gate": "the tank is not open for animals any sooner",
    "fish_phase": "fish cannot come in any sooner", "coral_gate": "corals are not expected to be possible any sooner",
    "crew_phase": "the clean-up crew cannot come in any sooner",
    "tests_of_one": "the tests that the {name} waits for are due by then",
    "tests_of_many": "the tests that the {name} wait for are due by then",
    "clean_days_first": "ammonia or nitrite showed, and {days} clean days must follow",
    "healthy_days_first": "{days} days without illness must pass first",
    "fallow_days_first": "{days} days without any fish must pass first, so that the parasite starves",
    "put_off": "you put the next stage off to {day}",
    "ammonia_before": "ammonia went in, and animals may come from {day} on",
    "left_out_before": "you left the last stage out, and {days} days must still follow it",
    "follows": "The {names} comes after the {first}, which should settle first.",
    "follow": "The {names} come after the {first}, which should settle first.",
    "no_place_before": "The last stage had no room for the {names}.",
    "day_of_its_own": "Fish, crew and each group of corals have their own days, so the {names} did not come with the last stage.",
    "too_much_with_before": "Together with the last stage, the {names} would give off more than a slow filter handles.",
    # --- why together, and what it asks of the filter
    "share_burrow": "The {name} share a burrow, so they move in together.",
    "both_at_once": "Both move in at once, so that neither claims the place before the other.",
    "all_at_once": "All {count} move in at once, so that none claims the place before the others.",
    "comes_alone": "It comes alone, so that the tank and you only have one newcomer to watch.",
    "let_be": "The {names} get along, and together add {added} of nitrogen a day.",
    "do_not_compete": "The {names} do not compete, and together add {added} of nitrogen a day.",
    "smaller_ration": "Feed less for {days} days, because this stage is a large step for the filter.",
    "no_quarantine": "Without a quarantine tank, one sick fish infects all. The display tank must then stay without fish for about {weeks} weeks. Buy fish that were quarantined, one stage at a time.",
    # --- no stage
    "too_much_for_filter": "Even with little food, the {name} would give off more than a slow filter handles, whatever goes in before. More water would let it in, or fewer weeks between the proof and this stage.",
    "no_day_left": "There is no possible day for the {name} in the time that the plan looks ahead.",
    "beyond_filter": "With it the list would give off {given} of nitrogen a day, and the filter has proved {handled}.",
    # --- steps of a stage
    "put_into_quarantine": "Put {names} into the quarantine tank, and nothing else.",
    "put_into_quarantine_until": "Put {names} into the quarantine tank, and nothing else. They stay until {day} at the earliest.",
    "in_quarantine_from": "Its fish enter the quarantine tank {day} and stay there until this day.",
    "bring_in": "Bring in {names}, and nothing else.",
    "move_over": "Move {names} over, and nothing else.",
    # --- notices of a plan: what a page has to know again keeps its kind
    "damaged_line": "{told}",
    "may_be_false": either("A line that cannot be read may hide an alarm, so each possible one stands here. Mend the line first: false alarms then go.", ""),
    "on_your_word": "Passed on your word, not on evidence: {phases}.",
    # --- notices about the wish list
    "wish_of_several": joined("'{written}' on your wish list is not planned, because ", either(f"it could be {{choice}}. Write the name of the one you mean, or that your shop sells, into {TANK_FILE}.", "it could be {names}. Tell the shop which one you mean.")),
    "wish_unknown": "'{written}' on your wish list is not planned, because we do not know this animal. Check the spelling, or take it off the list.",
    "cannot_stay": "In the tank, but it cannot stay: {name}. {why} Ask the shop or another keeper to take it. Never release it.",
    "cannot_stay_here": "{name} cannot stay in this tank: {why} Ask the shop to take it back. Never release it.",
    "left_out": "Not planned: {name}. {why}",
    "no_stage": "No day for {name}: {why}",
    "none_wished": joined("Your wish list has no {sort} for this tank, or none by a clear name, so none are planned. ", either(f"If you want some, change the list in {TANK_FILE}.", "If you want some, tell the shop.")),
    "lost": "Lost: {count} x {name}. The plan does not replace it. Find the cause first, then raise the number on your wish list.",
    "spike": "Ammonia or nitrite was above your kit's zero {day}, after animals came, and is {clear}. The next stage comes after {quiet} at the earliest.",
    "clear_since": "clear again since {day}",
    "not_clear_yet": "not clear yet",
    # --- one animal and one tank
    "word": "{word}",
    "asks_attention": "It needs some attention. {word}",
    "untold_experience": "Tell us how long you have kept marine animals. This one is not for a first tank. {word}",
    "asks_watchful_keeper": "It needs a watchful keeper. {word}",
    "asks_more_than_most": "It needs more than most animals you have kept. {word}",
    "not_to_start_with": "We would not start with it. {word}",
    "room_and_run_short": "Fully grown ({grown}) it needs about {room} of water and {run} of length to swim. Your tank has {there} and {length}.",
    "room_short": "Fully grown ({grown}) it needs about {room} of water. Your tank has {there}.",
    "run_short": "Fully grown ({grown}) it needs {run} of length to swim. Your tank has {length}.",
    "untold_length": "Tell us the length of the tank. It needs {run} to swim.",
    "only_a_pair": "Two live in peace only as a pair. Buy a proven pair, or two young ones from one brood.",
    "untold_temperature": "Tell us the temperature. It lives at {band}.",
    "too_warm_or_cold": "It lives at {band}, and your tank is at {there}.",
    "untold_sand_depth": "Tell us how deep the sand is. It needs {needed}.",
    "no_sand": "It needs sand {needed} deep, and your tank has none.",
    "sand_shallow": "It needs sand {needed} deep, and your tank has {there}. Heap it up in one corner.",
    "untold_grain": "Tell us what sand it is. Coarse sand injures animals that bury themselves.",
    "coarse_sand": "Coarse sand injures its skin. Give it fine sand.", "grown_in_rock": "mature rock that grows its food",
    "rock_to_hide_in": "rock to hide in",
    "untold_rock": "Tell us how much rock there is. It needs about {needed} of {what}.",
    "rock_short": "It needs about {needed} of {what}, and your tank has {there}.",
    "untold_lid": "Tell us whether the tank has a lid or a net. It jumps.",
    "jumps": "It jumps. Keep it only under a closed lid or a fine net.",
    "untold_light": "Tell us how strong the light is. It needs about {needed} of growing light where it sits.",
    "light_enough": "It needs about {needed} of growing light, and your lamp gives {there}.",
    "light_short": "It needs about {needed} of growing light and gets {there}.",
    "walks_into_pumps": "It walks. Put a guard on every pump and overflow before it moves in, or a pump shreds it.",
    "run_carbon": "If stony corals live in the same water, run carbon and change it every few weeks.",
    "hazard_venom_spines": "Its spines inject venom. Keep your hands away, and use a stiff net or a box. After a sting, rinse with water as hot as you can bear ({hot} at most, tried with the other hand) and see a doctor.",
    "hazard_venom_bite": "Its bite is venomous. Never hold it in your hand. See a doctor if a bite swells.",
    "hazard_tail_blade": "It has a blade at the tail. Use a box instead of a net, and keep your fingers clear.",
    "hazard_cheek_spine": "The spines on its cheeks catch in nets. Use a box.",
    "hazard_strong_bite": "It can bite a finger to the bone. Never feed it by hand.",
    "hazard_strong_pinch": "Its claws can hurt. Wear gloves when it is near.",
    "hazard_claw_blow": "The blow of its claw injures people and cracks thin glass. Put no bare hand in this tank.",
    "hazard_sting": "It stings bare skin. Wear gloves, and see a doctor if you react strongly.",
    "hazard_severe_sting": "Its sting is severe, and some people react dangerously. Wear gloves and long sleeves. Call a doctor at once if breathing becomes hard.",
    "hazard_palytoxin": "It may hold palytoxin, one of the strongest poisons known. Wear gloves and goggles, and air the room. Never boil, scrub, dry or cut it. If breathing is hard, the chest hurts or somebody collapses after contact, call the emergency number first. With fever, cough, weakness, muscle pain, tingling, sore eyes or a metallic taste, go to hospital at once.",
    "hazard_poisons_tank": "Injured or frightened to death, it can poison the whole tank. Guard every pump intake. Keep carbon and enough mixed water for a large change ready.",
    "hazard_poison_flesh": "Its flesh is poisonous to eat. Put a dead one in the bin, out of reach of pets.",
    "permit": "Listed in CITES appendix {appendix} (index of 2017). You may need papers to buy it abroad or to travel with it. Keep the receipt and check your local law, which may ask more. Never release it.",
    "law": "{law} Check your local law before you buy, and never release it.",
    # --- two animals
    "swallows": "A grown {hunter} swallows fish of this shape up to about {limit}, and the {prey} stays at {grown}.",
    "may_catch": "A grown {hunter} may catch fish of this shape up to about {limit}, and the {prey} stays at {grown}.",
    "eats": "The {hunter} eats {food}, and so it eats the {prey}.",
    "may_eat": "The {hunter} may eat or nip {food}, and so it may hurt the {prey}.",
    "prey_shrimp": "shrimp", "prey_little_shrimp": "tiny shrimp", "prey_crabs": "crabs", "prey_hermits": "hermit crabs", "prey_snails": "snails",
    "prey_clams": "clams", "prey_mantles": "the flesh of clams", "prey_polyps": "coral polyps", "prey_buttons": "button polyps", "prey_anemones": "anemones",
    "prey_tube_worms": "fan worms", "prey_urchins": "urchins", "prey_stars": "stars",
    "fights": "The {actor} takes the {other} for {taken} and fights it",
    "taken_for_kin": "its own kind", "taken_for_look_alike": "a rival that looks like it",
    "fights_anywhere": "{fight}, in a tank of any size.",
    "fights_at_peace": "{fight}. In {there} each can hold its own corner if the gentler one goes in first.",
    "fights_here": "{fight}. They need about {peace} to keep out of each other's way, and your tank has {there}.",
    "anemones_fight": "The {one} and the {other} fight with stings and with what they give off into the water.",
    "stings": "The {actor} stings {reach} far. Beside a grown {other} that takes {needed}, and the tank is {length} long.",
    "clear_rock": "Leave {reach} of bare rock between the {actor} and the {other}.",
    "may_eat_of_list": "It may eat or nip others on your list: {names}. Watch the first weeks, and know who would take it back.",
    "distance": "Leave {reach} free around it, above all towards {names}.",
    "partner": "It shares a home with the {host}.",
    "partner_that_stings": "It shares a home with the {host} and is safe from its sting.",
    # --- the list as a whole
    "room_together": "Fully grown, together they need about {room} of room, and the tank holds {there} of water.",
    "untold_ground": "Tell us the length and width of the tank. Then we can see whether all corals have room on the rock.",
    "nitrogen_unproven": "Fed as usual, these animals give off about {given} of nitrogen a day. How much the filter handles is not known before its proof dose.",
    "nitrogen_within": "Fed as usual, these animals give off about {given} of nitrogen a day. The proof before the first animal asks the filter for {handled}.",
    "nitrogen_beyond": "Fed as usual, these animals give off about {given} of nitrogen a day, more than the {handled} that the filter must prove.",
    "room_spent": "With the {name} the list would need {room}, and the tank has {there}.",
    "filter_spent": "With the {name} the list would give off {given} of nitrogen a day, and the filter proves {handled}.",
    "ground_spent": "There is no room left on the rock for the {name} at its distance from the other corals.",
    "no_place": "The wishes above it on your list leave no room for it.",
    # --- what would settle it
    "tell_us": "tell us {what}",
    "your_experience": "your experience", "the_length": "the length", "the_temperature": "the temperature", "the_depth_of_the_sand": "the depth of the sand",
    "the_sand": "the sand", "the_rock": "the rock", "about_the_lid": "about the lid", "the_light": "the light",
    "tank_of_its_own": "a tank of its own, planned around it", "practice_first": "a year or two of practice with easier animals",
    "longer_tank_with": "a tank {run} long with {room} of water",
    "tank_with": "a tank with {room} of water",
    "longer_tank": "a tank {run} long",
    "keep_at": "keep the tank at {band}",
    "sand_deep": "sand {needed} deep, at least in one corner",
    "fine_sand": "fine sand",
    "more_rock": "{needed} of rock",
    "lid_or_net": "a lid or a net",
    "more_light": "light of {needed}",
    "guards_on_pumps": "guards on all pumps",
    "give_up": "giving up the {names}",
    "give_up_or_room": "giving up the {names}, or a tank with {room} of water",
    "stronger_filter": "a filter that has proved {given} a day",
    "more_ground": "a tank with {floor} of floor, or one colony less",
    "other_order": "a change in the order of your list",
    "in_turn": "{parts}",
}  # fmt: skip


def _few(count: object) -> str:
    return FEW[count] if isinstance(count, int) and 0 <= count < len(FEW) else str(count)


def _alone_in_quarantine(names: str, first: str, last: str) -> str:
    return joined(f"{names[:1].upper()}{names[1:]} will be in the quarantine tank while you are away from ", first, " to ", last, ". Somebody must feed there, look at the fish and test "
                  "ammonia every day or two. If nobody can, let the shop keep the fish until you are back.")


def _load(given: float, reached: float, limit: float) -> str:
    """What all animals then give (mg/day), and the free ammonia that slow tanks are expected to reach (mg/L)."""
    gives = f"about {given:.0f} mg" if given >= 0.95 else "less than 1 mg"
    shown = f"at or below {reached:.2g} mg/L" if reached >= 0.001 else "below 0.001 mg/L"
    return f"All animals in by then give off {gives} of nitrogen a day. In nine of ten filters free ammonia (NH3) then stays {shown}, {'within' if reached <= limit else 'above'} the limit of {limit:g} mg/L."


def _readings(names: tuple[str, ...], upper: bool = False) -> str:
    said = listed("pH" if name == "ph" else name for name in names)
    return said[:1].upper() + said[1:] if upper and names[0] != "ph" else said


def _own_heaters(verdict: str, watts: tuple[str, ...], most: str, need: Amount, each: Amount) -> str:
    """For a keyboard alone: paper has it in its list."""
    takes, size = (format_amount(a.value, "W", "metric") for a in (need, each))
    mine = f"Your heater{'s' if len(watts) > 1 else ''} of {listed(watts)} {'are' if len(watts) > 1 else 'is'}"
    if verdict == "weak":
        said = f"{mine} too weak for this tank: a cold night takes {takes}. Buy two heaters of about {size} each."
    elif verdict == "strong":
        said = (f"{mine} stronger than this tank needs. One of {most} that sticks on soon overheats the water. Plug it into a temperature controller "
                f"(a second thermostat that cuts the power), or buy two heaters of about {size} each.")
    elif len(watts) == 1:
        said = f"{mine} strong enough for this tank. Two of about {size} each are safer: if one fails, the other still warms the water."
    else:
        said = f"{mine} right for this tank, which needs about {size} of each. Buy no others."
    return either(said, "")


CHOSEN: dict[str, Callable[..., str]] = {
    "alarm": lambda alert, told: told,  # noqa: ARG005 - faces ask for it by its name
    "open_guards": lambda guards: f"The date may move. These animals also wait for: {'; '.join(dict.fromkeys(map(condition_words, guards)))}.",
    "calendar_adds": lambda days: f"It comes {days_words(days)} later, because no day before suits your shopping days and absences.",
    "feed_less": lambda share, days: f"Give the newcomers about {SHARES[share]} of their usual food for the first {days:g} days, until the filter has grown.",
    "alone_in_quarantine": _alone_in_quarantine,
    "too_few": lambda least: f"It is unhappy in small company. Keep at least {_few(least)}.",
    "too_many": lambda count, most: f"{_few(count).capitalize()} would fight in one tank. Keep at most {_few(most)}.",
    "wish_for": lambda count: f"wish for {_few(count)}",
    "nitrogen_already": lambda given, already: f"Fed as usual, these animals give off about {given.value:g} mg of nitrogen a day. Those already in give off "
                                               f"{f'{already:.0f}' if already >= 0.95 else 'less than 1'} mg of it.",
    "load": _load,
    "dilute": lambda readings: joined(f"{_readings(readings, upper=True)} last lay at the end of the kit's scale or beyond. Mix one part of tank water with four parts of pure water "
                                      f"(RO or distilled), test that for {_readings(readings)}. ", multiplied("five_times"), "."),
    "larger_change": lambda made, usual, level: f"Feed a little less: your tests show that the tank makes about {made:g} mg/L of nitrate a week. With {usual:g} % changed a week it would settle near {level:g} mg/L, so this change is larger.",
    "own_heaters": _own_heaters,
    "read_too": lambda readings: f"Test {_readings(readings)} too, and log it with the rest.",
    "tests_too": lambda titles: joined("One test does today what several tasks ask for. With it stand: ", *(part for n, t in enumerate(titles) for part in (", " if n else "", "“", t, "”")), "."),
}
"""Kinds whose words depend on their values."""


def cause_words(why: str | Cause | None, units: str) -> str:
    """A cause told in `metric` or `us` units; a text of the rules as it stands, and nothing for none."""
    if why is None or isinstance(why, str):
        return why or ""
    if why.kind in CHOSEN:
        return CHOSEN[why.kind](**dict(why.values))
    return _filled(WORDS[why.kind], {name: _value_words(value, units) for name, value in why.values})


def all_words(causes: Iterable[str | Cause], units: str) -> list[str]:
    return [cause_words(c, units) for c in causes]


def _filled(text: str, values: Mapping[str, str]) -> str:
    """A text with its braces filled, and with the parts of both."""
    if not isinstance(text, Text):
        pieces = [(lead, values[name] if name else "") for lead, name, _, _ in Formatter().parse(text)]
        return joined(*(piece for pair in pieces for piece in pair if piece))
    return joined(*(_filled_part(p, values) for p in text.parts))


def _filled_part(part: Part, values: Mapping[str, str]) -> str:
    match part:
        case str():
            return _filled(part, values)
        case Either():
            said, told = (joined(*(_filled_part(p, values) for p in way)) for way in (part.typed, part.written))
            return Text(said, (Either(parts_of(said), parts_of(told)),))
    return Text(typed((part,), str), (part,))


def _value_words(value: Value, units: str) -> str:
    match value:
        case Cause():
            return cause_words(value, units)
        case Amount():
            return _amount_words(value.value, value.unit, units)
        case Span():
            last = _amount_words(value.high, value.unit, units)
            return f"{_amount_words(value.low, value.unit, units).split()[0]} to {last}"
        case tuple():
            return listed(v for v in value if isinstance(v, str)) or " ".join(cause_words(v, units) for v in value if isinstance(v, Cause))
        case str():
            return value
        case _:
            return three_digits(value)


def _amount_words(value: float, unit: str, units: str) -> str:
    """`65 L`, or `17 gal`: judgements are round, in US units too from ten on."""
    if units != "us" or unit not in INTERNAL:
        return f"{value:.2f} {unit}" if unit == "m²" else f"{three_digits(value)} {unit}"
    internal, factor = INTERNAL[unit]
    number, _, name = format_amount(value * factor, internal, units).partition(" ")
    return f"{round(float(number))} {name}" if float(number) >= 10 and unit != "°C" else f"{number} {name}"


__all__ = ["CHOSEN", "PROVISIONAL", "WORDS", "all_words", "cause_words"]
