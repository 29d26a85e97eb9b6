"""What every model of a written result has in common: no field but those named."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Strict(BaseModel):
    """A model that takes no field but its own."""

    model_config = ConfigDict(extra="forbid")
