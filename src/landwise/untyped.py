"""Data that has no types of its own here, by name, so that every place says which of them it means and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

# A table just read from TOML or JSON, or options just typed: whoever takes a value from it checks that value.
Table: TypeAlias = Mapping[str, Any]
# Texts, numbers and lists and tables of them, on their way to a template, a JSON text or a sheet, where names are
# looked up in text; what a result or review file must hold its pydantic model checks (`results/resultjson.py`).
Fields: TypeAlias = dict[str, Any]
# A number or an array that broadcasts; what goes in as one comes out as one, which numpy's own types can't say.
Number: TypeAlias = Any
# An object of a library that brings no types: solver, mesh, tree, font, workbook, table of columns, client.
Untyped: TypeAlias = Any
