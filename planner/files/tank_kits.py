"""Test kits as the tank file describes them: basis, smallest step, top of the scale, and what they show on clean water."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from planner.files.checked import ReadBy
from planner.files.tank_fields import Expiry, Part, written
from planner.terms.problems import nearest
from planner.terms.readings import READINGS
from planner.terms.units import Refusal
from planner.terms.written_amounts import MOLECULES, NITROGEN, convert_unit, nitrogen_factor
from planner.terms.written_numbers import NOT_NEGATIVE, parse_number, split_amount

if TYPE_CHECKING:  # loaded only to check
    from pydantic import ValidationInfo


class _Figure(tuple[str, str]):
    """A kit's figure with the reading it is for, on its way into `Kit`."""


@written(type=["string", "number"], pattern=rf"^\s*{NOT_NEGATIVE}", minimum=0, examples=["0.25"])
def _figure(given: Any, info: ValidationInfo) -> float:
    """A figure of a kit, on the scale of its basis."""
    if not isinstance(given, _Figure):
        raise Refusal("not-text", "a single value is wanted here", "write a number such as `0.25`")
    name, text = given
    number, unit = split_amount(text)
    value = parse_number(number)
    if isinstance(value, Refusal):
        raise value
    if value < 0 or (value == 0 and info.field_name != "blank"):
        raise Refusal("impossible-value", f"{text} is impossible for a kit", "check the number")
    basis = info.data.get("basis")
    if name in NITROGEN:
        plain = not unit or unit.lower().replace(" ", "") in ("mg/l", "ppm")
        if plain:
            return value
        found = convert_unit(value, unit, name)
        if not isinstance(found, Refusal) and basis is not None:
            found *= nitrogen_factor(name, basis)
        elif not isinstance(found, Refusal):
            raise Refusal("basis-missing", "the kit's basis is not given", "add `basis: N` or `basis: ion` to this kit")
    elif name == "salinity" and info.field_name == "step" and value < 0.1:
        found = _sg_step(value, unit)
    else:
        bare = name != "salinity" or not 0.9 < value < 1.1
        found = convert_unit(value, unit, READINGS[name].dimension, bare=bare)
    if isinstance(found, Refusal):
        raise found
    if name == "temperature" and info.field_name == "step" and "f" in unit.lower():
        return value / 1.8
    return found


class Kit(Part):
    """A test kit. Its figures are on the kit's own scale (mg/L on its basis; else the reading's internal unit)."""

    basis: Literal["N", "ion", "NH3", "NH4", "NO2", "NO3"] | None = None
    step: Annotated[float | None, ReadBy(_figure)] = None
    highest: Annotated[float | None, ReadBy(_figure)] = None
    blank: Annotated[float | None, ReadBy(_figure)] = None
    expires: Expiry | None = None

    def step_internal(self, reading: str) -> float | None:
        """The smallest step in the reading's internal unit (mg/L as N for nitrogen); None if it cannot be told."""
        return self._internal(reading, self.step)

    def highest_internal(self, reading: str) -> float | None:
        """The top of the scale in the reading's internal unit."""
        return self._internal(reading, self.highest)

    def blank_internal(self, reading: str) -> float | None:
        """What the kit shows on fresh salt water, in the reading's internal unit."""
        return self._internal(reading, self.blank)

    def _internal(self, reading: str, value: float | None) -> float | None:
        if value is None or reading not in NITROGEN:
            return value
        return (
            0.0
            if value == 0
            else None
            if self.basis is None
            else value / nitrogen_factor(reading, self.basis)
        )


def _sg_step(step: float, unit: str) -> float | Refusal:
    """A hydrometer's or refractometer's step in specific gravity as a step in salinity, near sea water's own."""
    if not unit.lower().startswith("sg"):
        return Refusal(
            "unit-missing",
            f"a salinity step of {step:g} {unit}".rstrip() + " has no scale",
            f"write `{step:g} SG`, or the step in ppt, such as `1 ppt`",
        )
    low, high = (convert_unit(sg, "SG 25/25", "salinity") for sg in (1.025, 1.025 + step))
    return high if isinstance(high, Refusal) or isinstance(low, Refusal) else high - low


@written(keys=[*READINGS])
def tie_kits(given: Any) -> Any:
    """Tie each kit's figures to its reading's name, and refuse names that are no reading."""
    if not isinstance(given, dict):
        raise Refusal("not-a-block", "`test_kits` is a block of readings", "write `ammonia:` below it, indented by two spaces")
    tied: dict[str, Any] = {}
    for name, kit in given.items():
        if name not in READINGS:
            near = nearest(name, READINGS)
            raise Refusal(
                "unknown-reading",
                f"unknown reading `{name}`",
                f"write `{near}`" if near else f"use one of: {', '.join(READINGS)}",
                at=(name,),
            )
        if isinstance(kit, dict):
            basis = kit.get("basis")
            if basis is not None and basis not in _BASES.get(name, ()):
                options = " or ".join(f"`{b}`" for b in _BASES.get(name, ()))
                raise Refusal(
                    "not-a-choice",
                    f"a kit for {name} cannot have the basis {basis!r}",
                    f"write {options}" if options else "take `basis` out",
                    at=(name, "basis"),
                )
            kit = {
                k: _Figure((name, v)) if k in ("step", "highest", "blank") and isinstance(v, str) else v
                for k, v in kit.items()
            }
        tied[name] = kit
    return tied


_BASES = {name: ("N", "ion", *molecules) for name, molecules in MOLECULES.items()}

__all__ = ["Kit", "tie_kits"]
