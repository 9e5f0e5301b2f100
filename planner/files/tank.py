"""The tank file: what stands in the room, as one frozen record in internal units.

What is not described stays None and counts as unknown to the rules; only true defaults are filled in. A key that
cannot be used is reported and left out, and the rest still makes a tank, as long as its size is known.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import cache
from typing import Annotated, Any, Literal

from planner.files import tank_fields as f
from planner.files.checked import Checked, Field, ReadBy, check
from planner.files.tank_fields import Light, Part
from planner.files.tank_kits import Kit, tie_kits
from planner.terms.days import DAY_NAMES
from planner.terms.problems import Place, Problem, nearest
from planner.terms.readings import READINGS
from planner.terms.units import Refusal
from planner.terms.written_amounts import one_of

PASSED = "already."
"""Begins the path of a phase that the keeper says was passed. Which phases there are the rules know (`wrong_phases`)."""


class Glass(Part):
    """The box. Either the three sides, or the volume (what it holds, in litres) where they are not known."""

    length_cm: f.SideCm | None = Field(None, alias="length")
    width_cm: f.SideCm | None = Field(None, alias="width")
    height_cm: f.SideCm | None = Field(None, alias="height")
    glass_mm: f.GlassMm | None = Field(None, alias="glass")
    waterline_cm: f.BelowRimCm | None = Field(None, alias="waterline")
    volume_l: f.TankL | None = Field(None, alias="volume")
    sump_l: f.SumpL | None = Field(None, alias="sump")
    lid: f.Lid | None = None

    @check
    def _size(self) -> None:
        sides = {"length": self.length_cm, "width": self.width_cm, "height": self.height_cm}
        given = [s for s in sides.values() if s is not None]
        if self.volume_l is not None and given:
            raise Refusal(
                "size-twice",
                "the tank has both sides and a volume, which may contradict each other",
                "take `volume` out; it follows from length, width and height",
                at=("volume" if len(given) == 3 else next(k for k, s in sides.items() if s is not None),),
            )
        if self.volume_l is None and len(given) < 3:
            wanting = [k for k, s in sides.items() if s is None]
            raise Refusal("size-missing", f"the size of the tank is not known: {', '.join(wanting)} missing", "give length, width and height, or the volume")
        if len(given) == 3:
            thick = (self.glass_mm or 0.0) / 10
            if min(given[0], given[1]) <= 2 * thick or given[2] <= thick:
                raise Refusal("impossible-value", "the glass is thicker than the box", "check the unit of `glass`", at=("glass",))
            if self.waterline_cm is not None and self.waterline_cm >= given[2] - thick:
                raise Refusal(
                    "impossible-value",
                    "the waterline lies below the bottom of the tank",
                    "give the distance from the rim down to the water",
                    at=("waterline",),
                )


class Rock(Part):
    kind: Literal["live", "cured", "dry"] | None = None
    mass_kg: f.MassKg | None = Field(None, alias="mass")
    cured_in: Literal["tank", "bin"] | None = None

    @check
    def _curing(self) -> None:
        if self.cured_in is not None and self.kind in ("dry", "cured"):
            raise Refusal(
                "not-with-this-rock",
                f"`cured_in` is for live rock; this rock is {self.kind}",
                "take `cured_in` out, or write `kind: live`",
                at=("cured_in",),
            )


class Sand(Part):
    kind: Literal["dry", "live", "none"] | None = None
    mass_kg: f.MassKg | None = Field(None, alias="mass")
    depth_cm: f.DepthCm | None = Field(None, alias="depth")


class Cycle(Part):
    """`ammonia` is filled in from the rock: live rock brings its own, dry and cured rock are dosed."""

    ammonia: Literal["rock", "dosed", "food"] | None = None
    dose_mg_n_l: f.DoseN = Field(2.0, alias="dose")
    seed: Literal["none", "bottled", "media_marine", "media_fresh"] = "none"


class Water(Part):
    """`salt_per_litre_g`: grams of salt mix per finished litre at 35 ppt."""

    source: Literal["ro", "distilled", "tap", "ready_mixed"] | None = None
    mixed_in: Literal["tank", "bin"] = "bin"
    salinity: f.TankSalinity = 35.0
    temperature_c: f.TankCelsius = Field(25.5, alias="temperature")
    salt_per_litre_g: f.SaltGrams = Field(38.0, alias="salt_per_litre")


class Equipment(Part):
    """`skimmer`, `top_up` and `quarantine_tank` are yes, no, or a size (L/h, L, L); a size means yes."""

    heater_w: f.Heaters | None = Field(None, alias="heater")
    circulation_l_h: f.Flow | None = Field(None, alias="circulation")
    skimmer: f.YesNoFlow | None = None
    light: f.LightField | None = None
    bin_l: f.Litres | None = Field(None, alias="bin")
    ro_rate_l_d: f.DailyFlow | None = Field(None, alias="ro_rate")
    top_up: f.YesNoLitres | None = None
    battery_air: f.YesNo | None = None
    floss: f.YesNo | None = None
    quarantine_tank: f.YesNoLitres | None = None

    @property
    def quarantine_l(self) -> float | None:
        return None if isinstance(self.quarantine_tank, bool) else self.quarantine_tank


class Room(Part):
    temperature_c: f.Celsius | None = Field(None, alias="temperature")
    floor: Literal["solid", "suspended", "unknown"] | None = None


class Away(Part):
    from_day: f.Day = Field(alias="from")
    to_day: f.Day = Field(alias="to")

    @check
    def _order(self) -> None:
        if self.to_day < self.from_day:
            raise Refusal("dates-reversed", "`to` lies before `from`", "swap the two dates, or mend the year")

    @property
    def nights(self) -> int:
        return (self.to_day - self.from_day).days


class Keeper(Part):
    reminder_time: f.Clock = "18:00"
    away: tuple[Away, ...] = ()
    shopping_days: f.Weekdays = ()

    @property
    def shopping_weekdays(self) -> frozenset[int]:
        """The days on which a shop can be reached, Monday as 0; empty for any."""
        return frozenset(map(DAY_NAMES.index, self.shopping_days))


class Wish(Part):
    animal: f.Text
    count: f.Count = 1


class Tank(Part):
    """The whole file. `already` holds phases passed on the keeper's word."""

    id: f.Uuid | None = None
    name: f.Text = "my tank"
    start: f.Day | None = None
    timezone: f.Zone | None = None
    units: Literal["metric", "us"] = "metric"
    tank: Glass
    rock: Rock = Field(default_factory=lambda: Rock.model_construct())
    sand: Sand = Field(default_factory=lambda: Sand.model_construct())
    cycle: Cycle = Field(default_factory=lambda: Cycle.model_construct())
    water: Water = Field(default_factory=lambda: Water.model_construct())
    equipment: Equipment = Field(default_factory=lambda: Equipment.model_construct())
    room: Room = Field(default_factory=lambda: Room.model_construct())
    test_kits: Annotated[dict[str, Kit], ReadBy(tie_kits)] = {}
    keeper: Keeper = Field(default_factory=lambda: Keeper.model_construct())
    wish_list: tuple[Wish, ...] = ()
    already: dict[f.PhaseName, f.Day] = {}

    @check
    def _together(self) -> None:
        if self.cycle.ammonia == "rock" and self.rock.kind != "live":
            raise Refusal(
                "no-ammonia-source",
                "only live rock gives off ammonia by itself; "
                + (
                    "the kind of rock is not given"
                    if self.rock.kind is None
                    else f"this rock is {self.rock.kind}"
                ),
                "write `ammonia: dosed`, or `kind: live` under `rock`",
                at=("cycle", "ammonia"),
            )
        if self.cycle.ammonia == "dosed" and self.rock.kind == "live" and self.rock.cured_in == "tank":
            raise Refusal(
                "two-ammonia-sources",
                "live rock curing in the tank is the ammonia already; a dose on top would be too much",
                "write `ammonia: rock`, or `cured_in: bin` under `rock`",
                at=("cycle", "ammonia"),
            )
        if self.cycle.ammonia is None:
            source = "rock" if self.rock.kind == "live" else "dosed"
            self.__dict__["cycle"] = self.cycle.model_copy(update={"ammonia": source})
        if self.rock.kind == "live" and self.rock.cured_in is None:
            self.__dict__["rock"] = self.rock.model_copy(update={"cured_in": "bin"})


def read_tank(text: str | bytes, file: str) -> tuple[Tank | None, tuple[Problem, ...]]:
    """A tank file into a tank and its problems. None if the size of the tank cannot be told."""
    from planner.files.yaml_checked import read_yaml, salvage  # not needed for a tank that was kept

    data, places, problems = read_yaml(text, file)
    if problems and data is None:
        return None, problems
    if data is not None and not isinstance(data, dict):
        fix = "begin with `tank:` and its length, width and height below it"
        return None, (*problems, Problem(places.around(()), "not-a-block", "a tank file is a block of keys", fix))
    if not (data or {}).get("tank"):
        fix = "add `tank:` with `length`, `width` and `height`, or `volume`, below it"
        return None, (*problems, Problem(Place(file), "size-missing", "the size of the tank is not given", fix))
    written = text if isinstance(text, str) else text.decode("utf-8-sig", errors="replace")
    tank, more = salvage(Tank, _without_empty(data), places, written.removeprefix("\ufeff").splitlines())
    return tank, tuple(sorted({*problems, *more}))


def wrong_phases(tank: Tank, phases: Collection[str], text: str | bytes, file: str) -> tuple[Tank, tuple[Problem, ...]]:
    """The tank of this file without the phases of `already` that no rule has, and a problem for each of them."""
    wrong = [phase for phase in tank.already if phase not in phases]
    if not wrong:
        return tank, ()
    from planner.files.yaml_checked import decode_text, line_of, read_yaml

    places, lines = read_yaml(text, file)[1], decode_text(text, file)[0].splitlines()
    problems = []
    for phase in wrong:
        near, place = nearest(phase, phases), places.of_key(("already", phase))
        problems.append(Problem(place, "not-a-choice", f"the rules have no phase '{phase}'; it is one of {one_of([*phases])}", f"write `{near}`" if near else "choose one of them", line_of(lines, place.line)))
    return tank.model_copy(update={"already": {phase: day for phase, day in tank.already.items() if phase in phases}}), tuple(problems)


def tank_value(tank: Tank, path: str) -> Any:
    """The value at a path of YAML keys, such as `rock.kind` or `test_kits.ammonia.step`; None if it is not described.
    Raises KeyError for a path that no tank file can have."""
    if path not in known_paths() and not path.startswith(PASSED):
        raise KeyError(path)
    found: Any = tank
    for step in path.split("."):
        if found is None:
            return None
        found = found.get(step) if isinstance(found, dict) else _attribute(found, step)
    return found


@cache
def known_paths() -> frozenset[str]:
    """Every path that `tank_value` knows, but those of single phases that were passed."""
    paths: set[str] = set()
    for key, field in _attributes(Tank).items():
        paths.add(key)
        part = Tank.model_fields[field].annotation
        if isinstance(part, type) and issubclass(part, Part):
            paths.update(f"{key}.{inner}" for inner in _attributes(part))
    paths.update(f"test_kits.{name}" for name in READINGS)
    paths.update(f"test_kits.{name}.{inner}" for name in READINGS for inner in _attributes(Kit))
    return frozenset(paths)


def _attribute(part: Checked, key: str) -> Any:
    return getattr(part, _attributes(part.__class__)[key])


@cache
def _attributes(part: type[Checked]) -> dict[str, str]:
    """YAML key -> attribute."""
    return {field.alias or name: name for name, field in part.model_fields.items()}


def _without_empty(data: Any) -> Any:
    """Keys without a value are keys not described."""
    if isinstance(data, dict):
        return {k: _without_empty(v) for k, v in data.items() if v is not None}
    return [_without_empty(v) for v in data] if isinstance(data, list) else data


__all__ = [
    "PASSED",
    "Away",
    "Cycle",
    "Equipment",
    "Glass",
    "Keeper",
    "Kit",
    "Light",
    "Rock",
    "Room",
    "Sand",
    "Tank",
    "Water",
    "Wish",
    "known_paths",
    "read_tank",
    "tank_value",
    "wrong_phases",
]
