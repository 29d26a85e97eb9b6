"""Bills, placements and inspection data with bytes changed anywhere: read, or refused in one sentence."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from landwise.errors import LandwiseError
from landwise.fabdata.bills import read_bill
from landwise.fabdata.inspection import read_inspection
from landwise.fabdata.placements import read_placements

BILL = Path("examples/logger/bom.csv").read_bytes()
PLACES = Path("examples/logger/fabrication/logger-placement.csv").read_bytes()
PASTE = b"Component,Pad,Volume(%),Height(um),Area(%)\n" + b"".join(b"U1,%d,9%d,101,98\n" % (n, n) for n in range(9))


@pytest.mark.parametrize(
    ("read", "whole"),
    [(read_bill, BILL), (read_placements, PLACES), (read_inspection, PASTE)],
    ids=["bill", "placement", "inspection"],
)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    at=st.floats(0, 1), count=st.integers(0, 40), put=st.binary(max_size=8), name=st.sampled_from(["x.csv", "x.txt"])
)
def test_a_file_with_bytes_changed(tmp_path, read, whole, at, count, put, name):
    path, start = tmp_path / name, int(at * len(whole))
    path.write_bytes(whole[:start] + put + whole[start + count :])
    with contextlib.suppress(LandwiseError):
        read(path)
