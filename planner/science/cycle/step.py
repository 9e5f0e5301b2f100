"""One step of two-step nitrification for many plausible tanks at once.

State, all in mg N/L: total ammonia, nitrite, nitrate; per guild the biomass divided by its yield
("bacteria", X/Y), so that mu * bacteria is the rate in mg N/L per day at full supply; and a pool of
organic nitrogen (die-off, food) that turns into ammonia. Only mu and X/Y of each guild can be told from
test-kit readings, hence this parametrisation; saturation, decay and oxygen constants stay fixed.

    d ammonia = release - mA MA BA          MA = TAN/(K_A + TAN)
    d nitrite = mA MA BA - mN MN BN         MN = NO2/(K_N + NO2) * K_I/(K_I + NH3-N)
    d nitrate = mN MN BN
    d B       = (m M - b) B                 m = mu * theta^(T - 25) * O2/(K_O + O2) * a

a: what pH and alkalinity leave of the speed (`ph_factor`, `alkalinity_factor`), 1 in sea water as it should be.

Sources: Monod two-step form with oxygen and free-ammonia terms as in Sin et al. 2008, Water Res. 42 and
Hiatt & Grady 2008, Water Environ. Res. 80:2145; temperature coefficients of growth between those of
Kaelin et al. 2009, Water Res. 43:1680 (1.13 and 1.08) and Wik et al.'s recirculation model (1.10 and
1.06); no nitrogen is taken up into biomass (2 % in practice).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REFERENCE_TEMPERATURE_C = 25.0
GROWTH_CEILING_C = 30.0  # growth no longer follows the exponential above this
CORRECTOR_PASSES = 3  # two already give second order; the third makes exhaustion accurate
LEAST_RATE = -1e-300
DIED_OUT_MG_N_L = 1e-200  # nothing lives below this: smaller numbers lose their digits, and the growth reckoned from them is noise
DEFAULT_STEP_D = 1 / 3
HALF_ALKALINITY_DKH, USUAL_ALKALINITY_DKH = 1.4, 8.0


@dataclass(frozen=True, slots=True)
class Kinetics:
    """What all members share. mg N/L, mg O2/L, per day; index A = ammonia, N = nitrite oxidisers.

    Defaults: a slow marine set inside the ranges of Sin et al. 2008 (K, K_O) with low decay; the
    inhibition constant is that of Hiatt & Grady 2008 for nitrite oxidisers (0.2 mg NH3-N/L).
    """

    half_saturation_a_mg_n_l: float = 0.5
    half_saturation_n_mg_n_l: float = 0.5
    decay_a_per_d: float = 0.05
    decay_n_per_d: float = 0.05
    half_oxygen_a_mg_l: float = 0.5
    half_oxygen_n_mg_l: float = 0.9
    theta_a: float = 1.10
    theta_n: float = 1.07
    inhibition_nh3_n_mg_l: float = 0.2
    oxygen_mg_l: float = 6.6
    temperature_c: float = REFERENCE_TEMPERATURE_C
    nh3_fraction: float = 0.0
    left_a: float = 1.0
    left_n: float = 1.0
    """What pH and alkalinity leave of either guild's speed."""

    def __post_init__(self) -> None:
        if min(self.half_saturation_a_mg_n_l, self.half_saturation_n_mg_n_l, self.inhibition_nh3_n_mg_l) <= 0:
            raise ValueError("half-saturation and inhibition constants must be positive")
        if min(self.decay_a_per_d, self.decay_n_per_d, self.oxygen_mg_l, self.nh3_fraction) < 0:
            raise ValueError("decay, oxygen and the NH3 fraction cannot be negative")


@dataclass(frozen=True, slots=True)
class Members:
    """An ensemble of n tanks; arrays are not to be changed.

    growth_per_d (2, n): mu of both guilds at 25 degrees C and ample oxygen. bacteria_mg_n_l (2, n): X0/Y.
    pool_mg_n_l (n): organic nitrogen present at t = 0. pool_rate_per_d (n): its first-order release.
    inocula: what is put in later, as (day, X/Y of both guilds (2, n)).
    """

    growth_per_d: Floats
    bacteria_mg_n_l: Floats
    pool_mg_n_l: Floats
    pool_rate_per_d: Floats
    inocula: tuple[tuple[float, Floats], ...] = ()

    def __post_init__(self) -> None:
        n = self.growth_per_d.shape[1]
        shapes = (self.growth_per_d.shape, self.bacteria_mg_n_l.shape)
        if shapes != ((2, n), (2, n)) or self.pool_mg_n_l.shape != (n,) or self.pool_rate_per_d.shape != (n,):
            raise ValueError("growth and bacteria need shape (2, n), pool and pool rate shape (n,)")

    @property
    def count(self) -> int:
        """Number of members."""
        return int(self.growth_per_d.shape[1])

    def take(self, index: NDArray[np.intp]) -> "Members":
        """The members at these positions, in that order."""
        return Members(
            self.growth_per_d[:, index],
            self.bacteria_mg_n_l[:, index],
            self.pool_mg_n_l[index],
            self.pool_rate_per_d[index],
            tuple((t_d, more[:, index]) for t_d, more in self.inocula),
        )


def nh3_fraction_from_ph(ph: float, temperature_c: float, salinity_sp: float) -> float:
    """Share of total ammonia that is NH3, 0 to 1, for the inhibition term only (not for warnings).

    pKa = 10.0423 - 0.0315536 t + 0.003071 S: Bell et al. 2008, Environ. Chem. 5:258. pH 6 to 9.5, 5 to
    35 degrees C, salinity 0 to 45.
    """
    pka = 10.0423 - 0.0315536 * temperature_c + 0.003071 * salinity_sp
    return float(1.0 / (1.0 + 10.0 ** (pka - ph)))


def ph_factor(ph: float) -> float:
    """What pH leaves of nitrification: 1 - 0.833 (7.2 - pH) below 7.2, all of it above, never under a twentieth.

    The line of the process design manuals of waste-water works (Downing et al. 1964; US EPA 1975; from memory). In marine mud the rate is
    high from 7.5 to 8 (Isnansetyo et al. 2011), which agrees.
    """
    return max(0.05, min(1.0, 1.0 - 0.833 * (7.2 - ph)))


def alkalinity_factor(alkalinity_dkh: float | None) -> float:
    """What alkalinity leaves of the first step, against the usual 8 dKH: Monod with 0.5 meq/L, 1.4 dKH (ASM2d, Henze et
    al. 1999; from memory). None: nobody read it, and nothing is taken off."""
    if alkalinity_dkh is None:
        return 1.0
    at = max(0.0, alkalinity_dkh)
    return max(0.02, min(1.0, at / (at + HALF_ALKALINITY_DKH) * (USUAL_ALKALINITY_DKH + HALF_ALKALINITY_DKH) / USUAL_ALKALINITY_DKH))


def effective_growth_per_d(members: Members, kinetics: Kinetics) -> Floats:
    """mu of each guild at the tank's temperature and oxygen, shape (2, n), per day."""
    return members.growth_per_d * _climate(kinetics)


def decay_per_d(kinetics: Kinetics) -> Floats:
    """Decay of each guild, shape (2, 1), per day."""
    return np.array([[kinetics.decay_a_per_d], [kinetics.decay_n_per_d]])


def _climate(kinetics: Kinetics) -> Floats:
    warmth = min(kinetics.temperature_c, GROWTH_CEILING_C) - REFERENCE_TEMPERATURE_C
    o2 = kinetics.oxygen_mg_l
    return np.array(
        [
            [kinetics.theta_a**warmth * o2 / (kinetics.half_oxygen_a_mg_l + o2) * kinetics.left_a],
            [kinetics.theta_n**warmth * o2 / (kinetics.half_oxygen_n_mg_l + o2) * kinetics.left_n],
        ]
    )


class Stepper:
    """Advances an ensemble in place; its arrays are the state.

    Each guild's rate is mu B S/(K + S). Within a step the substrate is advanced by the exact solution of
    dS/dt = p - k S with k = mu B/(K + S), where S and B are their own averages over the step, found by a few
    fixed-point passes. That is positive and stable whatever the step, exact for constant Monod rate,
    conserves nitrogen to rounding (what leaves one form is what enters the next), and of second order.
    """

    def __init__(self, members: Members, kinetics: Kinetics) -> None:
        n = members.count
        self.dissolved = np.zeros((2, n))  # total ammonia, nitrite
        self.nitrate = np.zeros(n)
        self.bacteria = np.maximum(members.bacteria_mg_n_l, DIED_OUT_MG_N_L)
        self.pool = members.pool_mg_n_l.copy()
        self.oxidised = np.zeros(n)  # ammonia turned into nitrite so far
        self.load_mg_n_l_d = 0.0
        self._pool_rate = members.pool_rate_per_d
        self._members = members
        self._has_pool = bool(np.any(self.pool > 0))
        self.change_climate(kinetics)

    def change_climate(self, kinetics: Kinetics) -> None:
        """From now on the water is so."""
        self._growth = effective_growth_per_d(self._members, kinetics)
        self._decay = decay_per_d(kinetics)
        self._half = np.array([[kinetics.half_saturation_a_mg_n_l], [kinetics.half_saturation_n_mg_n_l]])
        self._nh3_per_ki = kinetics.nh3_fraction / kinetics.inhibition_nh3_n_mg_l

    def add_bacteria(self, more_mg_n_l: Floats) -> None:
        """Seed that comes later than the start."""
        self.bacteria = self.bacteria + more_mg_n_l

    def add_to_pool(self, mg_n_l: Floats | float) -> None:
        """Food or other organic nitrogen that will turn into ammonia."""
        self.pool = self.pool + mg_n_l
        self._has_pool = self._has_pool or bool(np.any(np.asarray(mg_n_l) > 0))

    def change_water(self, fraction: float) -> None:
        """Replaces this part of the water by nitrogen-free water; bacteria and solids stay on the rock."""
        self.dissolved *= 1.0 - fraction
        self.nitrate *= 1.0 - fraction

    def advance(self, step_d: float) -> None:
        """Moves the state on by `step_d` days."""
        released: Floats | float = self.load_mg_n_l_d * step_d
        if self._has_pool:
            remaining = self.pool * np.exp(-self._pool_rate * step_d)
            released = released + (self.pool - remaining)
            self.pool = remaining
        supplied = self._has_pool or self.load_mg_n_l_d > 0
        start, before = self.dissolved, self.bacteria
        minus_growth = self._growth * -step_d
        loss = self._decay * step_d
        four_less, four_more = 4.0 - loss, 4.0 + loss
        mean, bacteria = start, before
        for last in (*[False] * (CORRECTOR_PASSES - 1), True):
            # All of this is written with minus the rate and minus the change: fewer passes over the arrays.
            minus_rate = minus_growth * bacteria
            minus_rate /= self._half + mean
            if self._nh3_per_ki > 0:
                minus_rate[1] /= 1.0 + self._nh3_per_ki * mean[0]
            np.minimum(minus_rate, LEAST_RATE, out=minus_rate)  # a guild that has died out uses nothing, and leaves all that arrives
            lost = np.expm1(minus_rate)  # minus the share of the substrate that is used up
            stays = lost / minus_rate  # of what arrives evenly over the step, the share left at its end
            lost *= start  # minus the amount used; not "after minus before", which loses a tiny guild's digits
            if last:
                end = start + lost
                if supplied:
                    end[0] += released * stays[0]
            ammonia_lost, nitrite_lost = lost
            if supplied:
                ammonia_lost -= released * (1.0 - stays[0])
            left = ammonia_lost * stays[1]  # minus what comes from the first step and is not used by the second
            nitrite_lost += ammonia_lost
            nitrite_lost -= left
            mean = lost / minus_rate
            # Minus the growth; never more than at saturation, which a pass that began with no substrate overshoots by far.
            grown = np.maximum(lost / bacteria, minus_growth)
            if last:
                end[1] -= left
            else:
                # exp(growth/2) by its (1,1) fraction: the same to third order, and a fifth of the time
                bacteria = before * ((four_less - grown) / (four_more + grown))
        grown += loss
        self.bacteria = np.maximum(before * np.exp(-grown), DIED_OUT_MG_N_L)
        self.dissolved = end
        self.nitrate = self.nitrate - lost[1]
        self.oxidised = self.oxidised - lost[0]
