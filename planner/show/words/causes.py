"""Causes in words: one row for each kind, with its values in braces and amounts in the buyer's units."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from string import Formatter

from planner.plan.texts import typed
from planner.show.words.conditions import condition_words
from planner.show.words.words import days_words, listed
from planner.terms.amounts import format_amount
from planner.terms.causes import Amount, Cause, Span, Value
from planner.terms.texts import TANK_FILE, Either, Part, Text, either, joined, parts_of

PROVISIONAL = frozenset({"open_guards", "shut_gate"})
"""What a date still hangs on."""
FEW = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
SHARES = {1.0: "all", 3 / 4: "three quarters", 2 / 3: "two thirds", 1 / 2: "half", 1 / 3: "a third", 1 / 4: "a quarter"}
INTERNAL = {"L": ("L", 1.0), "cm": ("cm", 1.0), "kg": ("g", 1000.0), "°C": ("°C", 1.0)}
"""Units of causes that have another name in US units: the internal unit, and how many of it one is."""

WORDS: dict[str, str] = {
    # --- why there is no date, or one that may move
    "undescribed": joined("the ", TANK_FILE, " does not say {key}"),
    "beyond_horizon": "no date within two years",
    "no_fish_wished": "the wish list names no fish that can be kept here",
    "shut_gate": "The date is provisional: it depends on the gate '{gate}', which opens on test results or ticks, never on a date.",
    "on_hold": "On hold: {because}",
    # --- why a stage is on its day
    "then_released": "This day, because {why}.",
    "then_gap": "This day, because {days} days and clean tests lie between two stages.",
    "then_large_step_before": "This day, because the stage before is a large step for the filter: {days} days and clean tests lie after it.",
    "then_quarantine": "This day, because its fish spend {days} days in quarantine.",
    "then_quarantine_after_batch": "This day, because its fish spend {days} days in quarantine and the batch before must have left it.",
    "then_first_left": "This day, because it is the first that is left: it could have come in before today.",
    "asks_for_age": "the {name} asks for a tank that has held salt water for {days} days",
    "group_waits": "{group} wait {days} days after the gate to animals",
    "group_soft_coral": "soft corals", "group_large_polyp": "large-polyp corals", "group_small_polyp": "small-polyp corals", "group_anemone": "anemones",
    "group_clam": "clams", "group_dragonet": "dragonets", "animals_gate": "the gate to animals opens no earlier",
    "fish_phase": "the fish phase lets no fish in earlier", "coral_gate": "the gate to corals is not expected earlier",
    "crew_phase": "the crew phase lets none in earlier",
    "tests_of_one": "the tests that the {name} waits for are expected by then",
    "tests_of_many": "the tests that the {name} wait for are expected by then",
    "clean_days_first": "{days} clean days come first after ammonia or nitrite showed",
    "healthy_days_first": "{days} days without an illness come first",
    "fallow_days_first": "{days} days without a fish starve the parasite first",
    "put_off": "the next stage was put off to {day}",
    "left_out_before": "the stage before was left out, and {days} days lie after it all the same",
    "follows": "The {names} follows the {first}, which should be at home first.",
    "follow": "The {names} follow the {first}, which should be at home first.",
    "no_place_before": "The stage before had no place left for the {names}.",
    "day_of_its_own": "Fish, crew and each group of corals have days of their own, so the {names} did not come with the stage before.",
    "too_much_with_before": "With the stage before, the {names} would give more than the filter takes in the slow case.",
    # --- why together, and what it asks of the filter
    "share_burrow": "The {name} share a burrow and move in together.",
    "both_at_once": "Both move in at once, so that neither owns the place before the other.",
    "all_at_once": "All {count} move in at once, so that none owns the place before the others.",
    "comes_alone": "It comes alone, so that the tank and you can watch one newcomer.",
    "let_be": "The {names} let one another be, and together add {added} of nitrogen a day.",
    "do_not_compete": "The {names} do not compete, and together add {added} of nitrogen a day.",
    "smaller_ration": "This counts on a smaller ration for {days} days, since the stage is a large step for the filter.",
    "no_quarantine": "Without a quarantine tank a disease that comes in with one fish reaches all, and the display must then stand without fish for about {weeks} weeks: "
                     "buy fish that have been quarantined, one stage at a time.",
    # --- no stage
    "too_much_for_filter": "Even on a small ration the {name} would give more than a slow filter takes, whatever goes in before. "
                           "More water, or fewer weeks between the proof and this stage, would let it in.",
    "no_day_left": "No usable day is left for the {name} in the time that the plan looks ahead.",
    "beyond_filter": "With it the list would give {given} of nitrogen a day; the filter proves {handled}.",
    # --- steps of a stage
    "put_into_quarantine": "Put {names} into the quarantine tank, and nothing else.",
    "put_into_quarantine_until": "Put {names} into the quarantine tank, and nothing else; they stay until {day} at the earliest.",
    "in_quarantine_from": "Its fish enter the quarantine tank {day} and stay there until this day.",
    "bring_in": "Bring in {names}, and nothing else.",
    "move_over": "Move {names} over, and nothing else.",
    # --- notices about the wish list
    "wish_of_several": joined("The wish '{written}' is not staged: ", either("it could be {choice}. Write the id of the one you mean into the tank file.", "it could be {names}. Tell the shop which one is meant.")),
    "wish_unknown": "The wish '{written}' is not staged: it is not in the catalogue. Check its spelling, or take it off the list.",
    "cannot_stay": "In the tank, where it cannot stay: {name}. {why} Ask the shop or another keeper to take it over; never release it.",
    "cannot_stay_here": "{name} cannot stay in this tank: {why} Ask the shop to take it back; never release it.",
    "left_out": "Left out of the stages: {name}. {why}",
    "no_stage": "No stage for {name}: {why}",
    "none_wished": joined("The wish list names no {sort} that can be kept here, so none are planned. ", either("Change the list in the tank file when you want some.", "Tell the shop when you want some.")),
    "lost": "Lost: {count} x {name}. The plan buys no other in its place by itself; find the cause first, then raise the count in the wish list.",
    "spike": "Ammonia or nitrite was above the kit's zero {day}, after animals came, and is {clear}: the next stage is not before {quiet}.",
    "clear_since": "clear again since {day}",
    "not_clear_yet": "not clear yet",
    # --- one animal and one tank
    "word": "{word}",
    "asks_attention": "It asks for some attention. {word}",
    "untold_experience": "Tell us how long you have kept marine animals: this is none for a first tank. {word}",
    "asks_watchful_keeper": "It asks for a watchful keeper. {word}",
    "asks_more_than_most": "It asks for more than most animals you have kept. {word}",
    "not_to_start_with": "We would not start with it. {word}",
    "room_and_run_short": "Grown to {grown} it needs about {room} of water and {run} of length to swim; here are {there} and {length}.",
    "room_short": "Grown to {grown} it needs about {room} of water; here are {there}.",
    "run_short": "Grown to {grown} it needs {run} of length to swim; the tank has {length}.",
    "untold_length": "Tell us the length of the tank: it needs {run} to swim.",
    "only_a_pair": "Two live in peace only as a pair: buy a proven one, or two young ones from one brood.",
    "untold_temperature": "Tell us the temperature: it lives at {band}.",
    "too_warm_or_cold": "It lives at {band} and the tank stands at {there}.",
    "untold_sand_depth": "Tell us how deep the sand is: it needs {needed}.",
    "no_sand": "It needs sand {needed} deep, and there is none.",
    "sand_shallow": "It needs sand {needed} deep and there are {there}: bank it up in one corner.",
    "untold_grain": "Tell us what sand it is: coarse grain grazes animals that bury themselves.",
    "coarse_sand": "Coarse sand grazes its skin: give it fine sand.", "grown_in_rock": "grown-in rock that breeds its food",
    "rock_to_hide_in": "rock to hide in",
    "untold_rock": "Tell us how much rock there is: it needs about {needed} of {what}.",
    "rock_short": "It needs about {needed} of {what}; here are {there}.",
    "untold_lid": "Tell us whether the tank has a lid or a net: it jumps.",
    "jumps": "It jumps: only under a closed lid or a fine net.",
    "untold_light": "Tell us how strong the light is: it needs about {needed} of growing light where it stands.",
    "light_short": "It needs about {needed} of growing light and gets {there}.",
    "walks_into_pumps": "Every pump and overflow needs a guard before it moves in: it walks, and a loose one is shredded.",
    "run_carbon": "Run carbon, changed every few weeks, when stony corals live in the same water.",
    "hazard_venom_spines": "Its spines inject venom: keep hands away, use a net of stiff mesh or a box, and after a sting rinse with hot water as hot as is bearable "
                           "({hot} at most, tried with the other hand) and see a doctor.",
    "hazard_venom_bite": "Its bite carries venom: never hold it in the hand; see a doctor if a bite swells.",
    "hazard_tail_blade": "It carries a blade at the tail: use a box instead of a net, and keep fingers clear.",
    "hazard_cheek_spine": "Spines on its cheeks catch in nets: use a box.",
    "hazard_strong_bite": "It can bite a finger to the bone: no hand feeding.",
    "hazard_strong_pinch": "Its claws can hurt: wear gloves when it is near.",
    "hazard_claw_blow": "The blow of its claw wounds people and cracks thin glass: no bare hand in this tank.",
    "hazard_sting": "It stings bare skin: wear gloves, and see a doctor if you react strongly.",
    "hazard_severe_sting": "Its sting is severe and some people react dangerously: gloves and long sleeves, and a doctor at once if breathing becomes hard.",
    "hazard_palytoxin": "It may hold palytoxin, one of the strongest poisons known: gloves and goggles, never boil, scrub, dry or cut it, air the room, and call a poison centre "
                        "or a doctor for fever, cramps or trouble breathing after contact.",
    "hazard_poisons_tank": "Injured or frightened to death it can poison the whole tank: guard every pump intake, keep carbon ready and enough mixed water for a large change.",
    "hazard_poison_flesh": "Its flesh is poisonous to eat; a dead one goes into the bin, out of reach of pets.",
    "permit": "Listed in CITES appendix {appendix} (index of 2017): papers may be needed to buy it abroad or to travel with it; keep the "
              "receipt and check your local law, which may go further. Never release it.",
    "law": "{law} Check your local law before you buy, and never release it.",
    # --- two animals
    "swallows": "A grown {hunter} swallows fish of this build up to about {limit}, and the {prey} stays at {grown}.",
    "may_catch": "A grown {hunter} may catch fish of this build up to about {limit}, and the {prey} stays at {grown}.",
    "eats": "The {hunter} eats {food}, and the {prey} is that to it.",
    "may_eat": "The {hunter} may eat or nip {food}, and the {prey} is that to it.",
    "prey_shrimp": "shrimp", "prey_little_shrimp": "tiny shrimp", "prey_crabs": "crabs", "prey_hermits": "hermit crabs", "prey_snails": "snails",
    "prey_clams": "clams", "prey_mantles": "the flesh of clams", "prey_polyps": "coral polyps", "prey_buttons": "button polyps", "prey_anemones": "anemones",
    "prey_tube_worms": "fan worms", "prey_urchins": "urchins", "prey_stars": "stars",
    "fights": "The {actor} takes the {other} for {taken} and fights it",
    "taken_for_kin": "kin", "taken_for_look_alike": "a look-alike",
    "fights_anywhere": "{fight}, in a tank of any size.",
    "fights_at_peace": "{fight}; in {there} each can hold its own corner if the gentler one goes in first.",
    "fights_here": "{fight}; it takes about {peace} for both to keep out of each other's way, and here are {there}.",
    "anemones_fight": "The {one} and the {other} fight with stings and with what they give off into the water.",
    "stings": "The {actor} stings {reach} far; beside a grown {other} that takes {needed}, and the tank is {length} long.",
    "clear_rock": "Leave {reach} of clear rock between the {actor} and the {other}.",
    "may_eat_of_list": "It may eat or nip what else is on the list: {names}. Watch the first weeks and have a place to take it back to.",
    "distance": "Leave {reach} clear around it, above all towards {names}.",
    "partner": "It shares a home with the {host}.",
    "partner_that_stings": "It shares a home with the {host} and is safe from its sting.",
    # --- the list as a whole
    "room_together": "Together they need about {room} of room when grown, and the tank holds {there} of water.",
    "untold_ground": "Tell us the tank's length and width, so that we can see whether all corals find ground.",
    "nitrogen_unproven": "Fed as usual, these animals give about {given} of nitrogen a day; how much the filter handles is not known before it has passed its challenge.",
    "nitrogen_within": "Fed as usual, these animals give about {given} of nitrogen a day, and the proof before the first animal asks the filter for {handled}.",
    "nitrogen_beyond": "Fed as usual, these animals give about {given} of nitrogen a day, more than the {handled} that the filter has to prove.",
    "room_spent": "With the {name} the list would claim {room} of the tank's {there}.",
    "filter_spent": "With the {name} the list would give {given} of nitrogen a day, and the filter proves {handled}.",
    "ground_spent": "There is no ground left for the {name} at its distance from the other corals.",
    "no_place": "The other wishes, which stand earlier on the list, leave no place for it.",
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
    "other_order": "a change in the order of the list",
    "in_turn": "{parts}",
}  # fmt: skip


def _few(count: object) -> str:
    return FEW[count] if isinstance(count, int) and 0 <= count < len(FEW) else str(count)


def _alone_in_quarantine(names: str, first: str, last: str) -> str:
    return joined(f"{names[:1].upper()}{names[1:]} will be in the quarantine tank while you are away from ", first, " to ", last, ": somebody has to feed there, look at the fish and test "
                  "ammonia every day or two. If nobody can, let the shop hold the fish until you are back.")


def _load(given: float, reached: float, limit: float) -> str:
    """What all animals then give (mg/day), and the free ammonia that slow tanks are expected to reach (mg/L)."""
    gives = f"about {given:.0f} mg" if given >= 0.95 else "less than 1 mg"
    shown = f"{reached:.2g} mg/L" if reached >= 0.001 else "less than 0.001 mg/L"
    return f"All animals in by then give {gives} of nitrogen a day, and in a slow filter, one in ten, free ammonia (NH3) rises to {shown} after it; the limit is {limit:g} mg/L."


CHOSEN: dict[str, Callable[..., str]] = {
    "open_guards": lambda guards: f"The date is provisional: these animals also wait for {'; '.join(dict.fromkeys(map(condition_words, guards)))}.",
    "calendar_adds": lambda days: f"The calendar adds {days_words(days)}: no usable day comes earlier.",
    "feed_less": lambda share, days: f"Give the newcomers about {SHARES[share]} of their usual food for the first {days:g} days, until the filter has grown.",
    "alone_in_quarantine": _alone_in_quarantine,
    "too_few": lambda least: f"It is unhappy in small company: keep at least {_few(least)}.",
    "too_many": lambda count, most: f"{_few(count).capitalize()} would fight in one tank; keep at most {_few(most)}.",
    "wish_for": lambda count: f"wish for {_few(count)}",
    "nitrogen_already": lambda given, already: f"Fed as usual, these animals give about {given.value:g} mg of nitrogen a day; those that are in give "
                                               f"{f'{already:.0f}' if already >= 0.95 else 'less than 1'} mg of it.",
    "load": _load,
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
            return f"{value:g}"


def _amount_words(value: float, unit: str, units: str) -> str:
    """`65 L`, or `17 gal`: judgements are round, in US units too from ten on."""
    if units != "us" or unit not in INTERNAL:
        return f"{value:.2f} {unit}" if unit == "m²" else f"{value:g} {unit}"
    internal, factor = INTERNAL[unit]
    number, _, name = format_amount(value * factor, internal, units).partition(" ")
    return f"{round(float(number))} {name}" if float(number) >= 10 and unit != "°C" else f"{number} {name}"


__all__ = ["CHOSEN", "PROVISIONAL", "WORDS", "all_words", "cause_words"]
