"""The study's hours at temperatures: a preset by name, or its own histogram."""

from __future__ import annotations

from landwise.errors import LandwiseError
from landwise.service.mission import Mission, mission
from landwise.study.file import Use

OWN = "own hours"


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
    try:
        if use.profile:
            return mission(use.profile)
        if not use.hours:
            return None
        total = sum(row.hours for row in use.hours) / 3600
        shares = tuple((row.temperature, row.hours / 3600 / total) for row in use.hours)
        return Mission(OWN, "stated", total, shares, "ambient" if use.hours_of == "air" else "junction")
    except LandwiseError as error:
        raise error.within(place="use, profile" if use.profile else "use, hours") from None
