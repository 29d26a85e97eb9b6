"""Study, line and outline files, and what is typed to vary them, from anybody: read, or refused in one sentence."""

from __future__ import annotations

import tomllib
from functools import partial
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from landwise.errors import LandwiseError
from landwise.outlines import read_outlines
from landwise.study.file import read_study, study_from
from landwise.study.linefile import read_line_file
from landwise.sweeping.axes import read_axis, with_value

EXAMPLE = Path("examples/logger/board.toml").read_bytes()
FEW = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
SCALARS = st.one_of(
    *(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8)),
    st.sampled_from(["80 um", "1e999 um", "-0 V", "nan mm", "٣ mm", "1,5 mm", "=1+1", "\x00", "any"]),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


def read_or_refused(read, *arguments):
    try:
        return read(*arguments)
    except LandwiseError:
        return None


@FEW
@given(st.integers(0, len(EXAMPLE) - 1), st.integers(0, 40), st.binary(max_size=6))
def test_a_study_file_with_bytes_changed(tmp_path, at, count, put):
    path = tmp_path / "board.toml"
    path.write_bytes(EXAMPLE[:at] + put + EXAMPLE[at + count :])
    read_or_refused(read_study, path)
    read_or_refused(read_line_file, path)


@FEW
@given(st.sampled_from(("board", "line", "use", "want", "costs", "part", "offer", "outlines", "landwise")), VALUES)
def test_a_table_replaced_by_anything(table, value):
    data = tomllib.loads(EXAMPLE.decode())
    read_or_refused(study_from, {**data, table: value})


@FEW
@given(st.sampled_from(("foil", "foils", "scatter", "transfer", "rates", "inspection", "exposure")), VALUES)
def test_a_field_replaced_by_anything(field, value):
    data = tomllib.loads(EXAMPLE.decode())
    read_or_refused(study_from, {**data, "line": {**data["line"], field: value}})


@FEW
@given(st.text(max_size=60))
def test_an_outline_file_of_anything(text):
    read_or_refused(partial(read_outlines, file="x.toml"), text)
    read_or_refused(partial(read_outlines, file="x.toml"), f'[[outline]]\nname = "X"\n{text}')


@FEW
@given(st.sampled_from(("", "costs.run=", "part[U1].", "line.foil=1..2/")), st.text(max_size=30))
def test_anything_typed_to_vary(head, text):
    axis = read_or_refused(read_axis, head + text)
    if axis is not None and axis.values:
        data = tomllib.loads(EXAMPLE.decode())
        read_or_refused(lambda: study_from(with_value(data, axis, axis.values[0])))
