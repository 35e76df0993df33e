"""Kinds of values a case holds: numbers with a dimension, counts, labels."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from flowsim.case.units import bound_of, example_of, guess_of, parse_quantity, wording
from flowsim.case.units_table import PLAIN

__all__ = [
    "AirPressure",
    "Angle",
    "AnyFlow",
    "AnyPressure",
    "AnyRatio",
    "AnyTime",
    "AnyVelocity",
    "Area",
    "ClassNumber",
    "Concentration",
    "Count",
    "CountRate",
    "Density",
    "Diffusivity",
    "Duration",
    "Flow",
    "FlowOrZero",
    "Frequency",
    "Label",
    "LabelOrNone",
    "Length",
    "LengthOrZero",
    "MassRate",
    "NumberDensity",
    "Part",
    "ParticleDensity",
    "ParticleSize",
    "PositiveRatio",
    "PositiveShare",
    "Pressure",
    "PressureOrZero",
    "Quantity",
    "Ratio",
    "Share",
    "Switch",
    "Temperature",
    "Text",
    "Velocity",
    "VelocityOrZero",
    "Volume",
]


HUGE = 1e300
"""Larger numbers are taken as not finite."""


class Part(BaseModel):
    """Base of all parts of a case: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


@dataclass(frozen=True)
class Quantity:
    """A number with a dimension, read from a string with a unit or taken as SI from Python.

    Parameters
    ----------
    dimension : str
        Name of the dimension in `flowsim.case.units`.
    above : float or None
        The value must be larger than this. [SI]
    least, most : float or None
        Smallest and largest value allowed. [SI]
    """

    dimension: str
    above: float | None = None
    least: float | None = None
    most: float | None = None

    def validate(self, value: object, info: core_schema.ValidationInfo) -> float:
        """Return the value in SI units, or raise with what was expected instead.

        Parameters
        ----------
        value : object
            What the file or the caller gave. [any]
        info : ValidationInfo
            Carries the context that tells files from Python. [-]

        Returns
        -------
        float
            The value. [SI]
        """
        try:
            number = self._number(value, bool(info.context and info.context.get("from_file")))
            self._check_range(number, value)
        except ValueError as error:
            raise PydanticCustomError("quantity", "{text}", {"text": str(error)}) from None
        return number

    def _number(self, value: object, from_file: bool) -> float:
        """Return the SI value of a string or a number."""
        if isinstance(value, str):
            return parse_quantity(value, self.dimension)
        if isinstance(value, bool) or not isinstance(value, int | float):
            shown = str(value).lower() if isinstance(value, bool) else _kind(value)
            raise ValueError(f"is not {wording(self.dimension)} (got {shown}); {self.expected()}")
        if abs(value) > HUGE or value != value:
            shown = str(value) if isinstance(value, float) else "a whole number of many digits"
            raise ValueError(f"is not a finite number (got {shown}); {self.expected()}")
        if from_file and self.dimension not in PLAIN:
            guess = guess_of(self.dimension, value)
            raise ValueError(
                f"has no unit (got {value}); {self.expected()}; did you mean '{guess}'?"
            )
        return float(value)

    def _check_range(self, number: float, value: object) -> None:
        """Raise if the value is outside the range of the key."""
        shown = f"'{value}'" if isinstance(value, str) else f"{value}"
        if self.above is not None and not number > self.above:
            raise ValueError(f"is too small (got {shown}); {self.expected()}")
        if self.least is not None and number < self.least:
            raise ValueError(f"is too small (got {shown}); {self.expected()}")
        if self.most is not None and number > self.most:
            raise ValueError(f"is too large (got {shown}); {self.expected()}{self._percent(value)}")

    def _percent(self, value: object) -> str:
        """Return a question where a share was probably meant in percent."""
        if self.most != 1.0 or isinstance(value, str):
            return ""
        return f"; did you mean '{value} %'?"

    def expected(self) -> str:
        """Return the words that say what the key takes."""
        return f"expected {wording(self.dimension)}{self._bounds()}, such as {self._such_as()}"

    def _such_as(self) -> str:
        """Return example values inside the range."""
        if self.dimension == "class number":
            return "5 or 5.5"
        if self.dimension == "ratio":
            return "0.25 or '25 %'" if self.most == 1.0 else "1.2 or '120 %'"
        return f"'{example_of(self.dimension)}'"

    def _bounds(self) -> str:
        """Return the range in words."""
        parts = []
        if self.above is not None:
            parts.append(f"above {bound_of(self.dimension, self.above)}")
        if self.least is not None:
            parts.append(f"at least {bound_of(self.dimension, self.least)}")
        if self.most is not None:
            parts.append(f"at most {bound_of(self.dimension, self.most)}")
        return f" ({', '.join(parts)})" if parts else ""

    def __get_pydantic_core_schema__(
        self, source: type[Any], handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Tell pydantic to use `validate`."""
        del source, handler
        return core_schema.with_info_plain_validator_function(self.validate)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Mark the place of the dimension; `schema_json` puts the pattern there."""
        del schema, handler
        return {"x-dimension": self.dimension}


def _kind(value: object) -> str:
    """Return what a value is, in words of the file."""
    if isinstance(value, dict | BaseModel):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return f"a {type(value).__name__}"


Length = Annotated[float, Quantity("length", above=0.0, most=1000.0)]
LengthOrZero = Annotated[float, Quantity("length", least=0.0, most=1000.0)]
Area = Annotated[float, Quantity("area", above=0.0, most=1000.0)]
Flow = Annotated[float, Quantity("flow", above=0.0, most=1000.0)]
FlowOrZero = Annotated[float, Quantity("flow", least=0.0, most=1000.0)]
AnyFlow = Annotated[float, Quantity("flow")]
Velocity = Annotated[float, Quantity("velocity", above=0.0, most=100.0)]
VelocityOrZero = Annotated[float, Quantity("velocity", least=0.0, most=100.0)]
AnyVelocity = Annotated[float, Quantity("velocity")]
Pressure = Annotated[float, Quantity("pressure", above=0.0, most=1e6)]
PressureOrZero = Annotated[float, Quantity("pressure", least=0.0, most=1e6)]
AnyPressure = Annotated[float, Quantity("pressure", least=-1e6, most=1e6)]
AirPressure = Annotated[float, Quantity("pressure", least=30e3, most=120e3)]
Temperature = Annotated[float, Quantity("temperature", least=223.15, most=373.15)]
Density = Annotated[float, Quantity("density", above=0.0, most=10.0)]
ParticleDensity = Annotated[float, Quantity("density", above=0.0, most=25e3)]
Volume = Annotated[float, Quantity("volume", above=0.0, most=1e6)]
Diffusivity = Annotated[float, Quantity("diffusivity", least=0.0, most=10.0)]
MassRate = Annotated[float, Quantity("mass flow", above=0.0, most=1.0)]
Duration = Annotated[float, Quantity("time", above=0.0, most=1e6)]
AnyTime = Annotated[float, Quantity("time")]
CountRate = Annotated[float, Quantity("count rate", least=0.0, most=1e15)]
NumberDensity = Annotated[float, Quantity("number density", least=0.0, most=1e15)]
Concentration = Annotated[float, Quantity("parts per million", least=0.0, most=1e6)]
ParticleSize = Annotated[float, Quantity("particle size", above=0.0, most=100e-6)]
ClassNumber = Annotated[float, Quantity("class number")]
Frequency = Annotated[float, Quantity("frequency", above=0.0, most=1000.0)]
Angle = Annotated[float, Quantity("angle", above=0.0, most=math.pi)]
Share = Annotated[float, Quantity("ratio", least=0.0, most=1.0)]
PositiveShare = Annotated[float, Quantity("ratio", above=0.0, most=1.0)]
Ratio = Annotated[float, Quantity("ratio", least=0.0)]
PositiveRatio = Annotated[float, Quantity("ratio", above=0.0)]
AnyRatio = Annotated[float, Quantity("ratio")]
Count = Annotated[int, Field(strict=True, ge=1, le=1_000_000)]
Switch = Annotated[bool, Field(strict=True)]


TURNING = frozenset(chr(code) for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A)))
"""Signs that turn the direction of text."""


def _printable(text: str) -> str:
    """Return a text, or raise if it holds signs that steer a terminal or turn its direction."""
    for sign in text:
        if (sign not in "\n\t" and unicodedata.category(sign) in ("Cc", "Cs")) or sign in TURNING:
            raise PydanticCustomError(
                "text", f"holds the control character U+{ord(sign):04X}; expected printable text"
            )
    return text


Text = Annotated[str, Field(strict=True, max_length=10_000), AfterValidator(_printable)]
Label = Annotated[
    str,
    Field(strict=True, pattern=r"^[^.\[\]=\s][^.\[\]=\n]*$", max_length=80),
    AfterValidator(_printable),
]
LabelOrNone = Annotated[
    str,
    Field(strict=True, pattern=r"^([^.\[\]=\s][^.\[\]=\n]*)?$", max_length=80),
    AfterValidator(_printable),
]
