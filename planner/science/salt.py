"""Salt: how much for a volume, how to move a salinity up or down within a daily limit.

Masses are of the dry mix as it comes from the bag. A mix holds water of crystallisation, so its grams per
finished litre at 35 ppt are an input; physics brackets them (see SALT_PER_LITRE_MIN_G and _MAX_G). "Litres"
are litres of finished sea water unless a name says `fresh`.
"""

from __future__ import annotations

import math
from itertools import pairwise

from planner.frozen import dataclass
from planner.science.formula import Formula, require
from planner.science.water import density_kg_m3, grams_per_litre_from_salinity, pure_water_density_kg_m3

__all__ = [
    "FORMULAS",
    "SALT_PER_LITRE_DEFAULT_G",
    "SALT_PER_LITRE_MAX_G",
    "SALT_PER_LITRE_MIN_G",
    "LowerStep",
    "RaiseStep",
    "fresh_water_for_mix_l",
    "lower_salinity_steps",
    "raise_salinity_steps",
    "salt_mass_g",
    "swap_fraction",
]

# 35.986 g/L is anhydrous reference salt (TEOS-10); 42.27 g/L has every Mg, Ca and Sr salt as its usual
# hydrate.
SALT_PER_LITRE_MIN_G = 35.9
SALT_PER_LITRE_MAX_G = 42.5
SALT_PER_LITRE_DEFAULT_G = 38.0  # common practice, no source
_VOLUME_MAX_L = 100_000.0


@dataclass(frozen=True, slots=True)
class RaiseStep:
    """One day's salt: dissolve `salt_g` in tank water outside the tank, then add."""

    day: int
    salinity_to: float
    salt_g: float


@dataclass(frozen=True, slots=True)
class LowerStep:
    """One day's swap: take `swap_l` out (`fraction` of the volume), put as much weaker water in."""

    day: int
    salinity_to: float
    fraction: float
    swap_l: float


def _volume(volume_l: float) -> float:
    return require("volume", volume_l, 0.0, _VOLUME_MAX_L, "L")


def _salt_per_litre(salt_per_litre_g: float) -> float:
    return require(
        "salt per finished litre at 35 ppt",
        salt_per_litre_g,
        SALT_PER_LITRE_MIN_G,
        SALT_PER_LITRE_MAX_G,
        "g/L",
    )


def salt_mass_g(
    volume_l: float,
    salinity: float = 35.0,
    salt_per_litre_g: float = SALT_PER_LITRE_DEFAULT_G,
    *,
    salinity_now: float = 0.0,
    temperature_c: float = 25.0,
) -> float:
    """Grams of mix that bring `volume_l` litres (finished) from `salinity_now` to `salinity`.

    Valid: 0-100 000 L, salinity 0-42, 35.9-42.5 g per finished litre at 35 ppt, salinity >= salinity_now.
    Raises OutOfRange.
    Source: mass balance, m = V g35 [c(S) - c(S_now)]/c(35), c = dry salt per litre from TEOS-10 (Reference
    Salinity x density).
    """
    s_now = require("salinity now", salinity_now, 0.0, 42.0, "ppt")
    s_target = require("target salinity", salinity, s_now, 42.0, "ppt")
    c_35 = grams_per_litre_from_salinity(35.0, temperature_c)
    rise = grams_per_litre_from_salinity(s_target, temperature_c) - grams_per_litre_from_salinity(
        s_now, temperature_c
    )
    return _volume(volume_l) * _salt_per_litre(salt_per_litre_g) * rise / c_35


def fresh_water_for_mix_l(
    volume_l: float,
    salinity: float = 35.0,
    salt_per_litre_g: float = SALT_PER_LITRE_DEFAULT_G,
    *,
    temperature_c: float = 25.0,
) -> float:
    """Litres of fresh water to start from so that `volume_l` litres of finished sea water come out.

    Valid: as `salt_mass_g`. Raises OutOfRange.
    Source: conservation of mass; densities from TEOS-10. The mix's own crystal water counts as water.
    """
    finished_kg = _volume(volume_l) * density_kg_m3(salinity, temperature_c) / 1000.0
    salt_kg = salt_mass_g(volume_l, salinity, salt_per_litre_g, temperature_c=temperature_c) / 1000.0
    return (finished_kg - salt_kg) * 1000.0 / pure_water_density_kg_m3(temperature_c)


def _days(change: float, daily_limit_ppt: float) -> int:
    limit = require("daily limit", daily_limit_ppt, 0.1, 42.0, "ppt/day")
    return max(1, math.ceil(change / limit - 1e-9))


def raise_salinity_steps(
    volume_l: float,
    salinity_now: float,
    salinity_target: float,
    *,
    daily_limit_ppt: float,
    salt_per_litre_g: float = SALT_PER_LITRE_DEFAULT_G,
) -> tuple[RaiseStep, ...]:
    """Equal daily steps up to the target, none above `daily_limit_ppt`; empty if already there.

    Valid: as `salt_mass_g`; daily limit 0.1-42 ppt. Raises OutOfRange. Source: `salt_mass_g` for each step.
    """
    require("salinity target", salinity_target, salinity_now, 42.0, "ppt")
    change = salinity_target - salinity_now
    if change == 0.0:
        return ()
    days = _days(change, daily_limit_ppt)
    marks = [salinity_now + change * day / days for day in range(days)] + [salinity_target]
    return tuple(
        RaiseStep(day + 1, b, salt_mass_g(volume_l, b, salt_per_litre_g, salinity_now=a))
        for day, (a, b) in enumerate(pairwise(marks))
    )


def swap_fraction(salinity_now: float, salinity_target: float, salinity_of_new_water: float = 0.0) -> float:
    """Fraction of the volume to replace to get from one salinity down (or up) to another in one swap.

    Valid: salinities 0-42, target between the present salinity and that of the new water. Raises OutOfRange.
    Source: mixing of two volumes, f = (S_now - S)/(S_now - S_new).
    """
    s_now = require("salinity now", salinity_now, 0.0, 42.0, "ppt")
    s_new = require("salinity of the new water", salinity_of_new_water, 0.0, 42.0, "ppt")
    s_target = require("target salinity", salinity_target, min(s_now, s_new), max(s_now, s_new), "ppt")
    return 0.0 if s_target == s_now else (s_now - s_target) / (s_now - s_new)


def lower_salinity_steps(
    volume_l: float,
    salinity_now: float,
    salinity_target: float,
    *,
    daily_limit_ppt: float,
    salinity_of_new_water: float = 0.0,
) -> tuple[LowerStep, ...]:
    """Equal daily steps down, each a swap of tank water for weaker water, none above `daily_limit_ppt`.

    Valid: as `swap_fraction`; daily limit 0.1-42 ppt. Raises OutOfRange. Source: `swap_fraction` for each
    step.
    """
    s_now = require("salinity now", salinity_now, 0.0, 42.0, "ppt")
    s_target = require("target salinity", salinity_target, salinity_of_new_water, s_now, "ppt")
    change = s_now - s_target
    if change == 0.0:
        return ()
    days = _days(change, daily_limit_ppt)
    marks = [s_now - change * day / days for day in range(days)] + [s_target]
    steps = []
    for day, (a, b) in enumerate(pairwise(marks)):
        fraction = swap_fraction(a, b, salinity_of_new_water)
        steps.append(LowerStep(day + 1, b, fraction, fraction * _volume(volume_l)))
    return tuple(steps)


_BALANCE = "conservation of mass; dry salt per litre and densities from TEOS-10 (IOC, SCOR & IAPSO 2010)"
_SALT_VALID = "0 to 42 ppt; 35.9 to 42.5 g per finished litre at 35 ppt"

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula(
            "salt_mass_g",
            "grams = litres x g per litre at 35 x [c(target) - c(now)] / c(35); c: dry salt in a litre",
            _BALANCE,
            _SALT_VALID,
        ),
        Formula(
            "raise_salinity_steps",
            "equal steps within the daily limit, grams as for salt mass",
            _BALANCE,
            _SALT_VALID,
        ),
        Formula(
            "lower_salinity_steps",
            "equal steps within the daily limit, each f = (now - target) / (now - new water)",
            "mixing of two volumes",
            "0 to 42 ppt",
        ),
    )
}
