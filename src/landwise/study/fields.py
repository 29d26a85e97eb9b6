"""What the tables of a study file are made of: quantities with their units, and defaults with their reasons."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from landwise.errors import InputError
from landwise.quantities import parse


def _reader(dimension: str) -> BeforeValidator:
    return BeforeValidator(lambda text: parse(text, dimension))


def _text_schema(dimension: str, example: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "description": f"a {dimension} with its unit, such as {example}"})


Length = Annotated[float, _reader("length"), _text_schema("length", "0.5 mm")]
ThinLength = Annotated[float, _reader("thin length"), _text_schema("thickness", "80 um")]
AreaMm2 = Annotated[float, _reader("area"), _text_schema("area", "1200 mm2")]
Temperature = Annotated[float, _reader("temperature"), _text_schema("temperature", "85 degC")]
TemperatureSwing = Annotated[float, _reader("temperature difference"), _text_schema("temperature difference", "40 K")]
Time = Annotated[float, _reader("time"), _text_schema("time", "30 min")]
Expansion = Annotated[float, _reader("expansion"), _text_schema("thermal expansion", "15 ppm/K")]
Stress = Annotated[float, _reader("pressure"), _text_schema("stress", "40 MPa")]
Frequency = Annotated[float, _reader("frequency"), _text_schema("frequency", "10 MHz")]
Acceleration = Annotated[float, _reader("acceleration"), _text_schema("acceleration", "50 g")]
Density = Annotated[float, _reader("acceleration density"), _text_schema("acceleration density", "0.04 g2/Hz")]
Power = Annotated[float, _reader("power"), _text_schema("power", "20 mW")]
Capacitance = Annotated[float, _reader("capacitance"), _text_schema("capacitance", "50 pF")]
Mass = Annotated[float, _reader("mass"), _text_schema("mass", "40 g")]
Voltage = Annotated[float, _reader("voltage"), _text_schema("voltage", "3.3 V")]


class Table(BaseModel):
    """A table of the study file: no field but those named, and nothing changes it."""

    model_config = ConfigDict(extra="forbid", frozen=True)


# a field of any type: pydantic's own Field is untyped in the same way, or no default could be assigned
def default(value: object, says: str, reason: str, source: str = "landwise-rule") -> Any:
    """A field with a default that can be listed with its reason."""
    return Field(default=value, description=says, json_schema_extra={"reason": reason, "source": source})


def require_number(table: Table, name: str, *, zero: bool) -> None:
    """A stated number must be positive, or at least not negative where zero makes sense."""
    value = getattr(table, name)
    if value is not None and (value < 0 or (value == 0 and not zero)):
        says, expected = ("can't be negative", "0 or more") if zero else ("must be positive", "more than 0")
        raise InputError(says, place=name, found=f"{value:g}", expected=expected)
