"""The study's hours at temperatures: a preset by name, or its own histogram."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from landwise.errors import InputError, LandwiseError
from landwise.service.mission import Mission, Where, mission
from landwise.study.file import Use
from landwise.study.usetable import HoursTable

OWN = "own hours"


def _rows(rows: Sequence[HoursTable]) -> tuple[tuple[float, float], ...]:
    """Temperature [°C] and hours of each row."""
    return tuple((row.temperature, row.hours / 3600) for row in rows)


def mission_of(use: Use) -> Mission | None:
    """Hours that the study states, or None.

    Raises
    ------
    InputError
        Naming the field.

    Examples
    --------
    >>> from landwise.study.file import study_from
    >>> rows = [{"temperature": "40 °C", "hours": "30000 h"}, {"temperature": "85 °C", "hours": "10000 h"}]
    >>> found = mission_of(study_from({"use": {"hours": rows, "hours_of": "air"}}).content.use)
    >>> found.hours, found.histogram, found.where
    (40000.0, ((40.0, 0.75), (85.0, 0.25)), 'ambient')
    """
    if not (use.profile or use.hours):
        if use.off or use.stored:
            raise InputError(
                "unpowered or stored hours stand alone",
                place="use, off" if use.off else "use, stored",
                expected="hours or a profile beside them",
            )
        return None
    try:
        off, stored = _rows(use.off), _rows(use.stored)
        if use.profile:
            return replace(mission(use.profile), off=off, stored=stored)
        total = sum(row.hours for row in use.hours) / 3600
        shares = tuple((row.temperature, row.hours / 3600 / total) for row in use.hours)
        where: Where = "ambient" if use.hours_of == "air" else "junction"
        return Mission(OWN, "stated", total, shares, where, off=off, stored=stored)
    except LandwiseError as error:
        raise error.within(place="use, profile" if use.profile else "use, hours") from None
