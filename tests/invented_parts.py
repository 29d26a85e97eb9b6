"""Parts that studies of several tests share; invented, without prices: each test states its own."""

from __future__ import annotations

LITTLE_GATE = {"refs": ["U1", "U2"], "number": "1G08", "family": "LVC", "terminals": 5, "package": "SOT-23-5"}
