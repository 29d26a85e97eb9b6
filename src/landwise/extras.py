"""What may be left out of an installation, what it adds, and how to say that it is missing."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec

from landwise.errors import ExtraError


@dataclass(frozen=True)
class Extra:
    """A group of packages that pip installs on request, as `landwise[NAME]`.

    Parameters
    ----------
    name : str
        As in pyproject.toml.
    adds : str
        What can't be done without it, as the subject of a sentence in the plural.
    modules : tuple of str
        What it brings, by the names that are imported.

    Examples
    --------
    >>> PDF.says
    "PDF and PNG files need the extra [pdf]: pip install 'landwise[pdf]'"
    >>> Extra("none", "empty files", ("no_such_module",)).installed
    False
    """

    name: str
    adds: str
    modules: tuple[str, ...]

    @property
    def installed(self) -> bool:
        """Whether every module of it can be found; none is loaded."""
        try:
            return all(find_spec(module) is not None for module in self.modules)
        except ImportError:  # an importer that refuses by raising
            return False

    @property
    def command(self) -> str:
        """What installs it."""
        return f"pip install 'landwise[{self.name}]'"

    @property
    def says(self) -> str:
        """One sentence for whoever goes without it."""
        return f"{self.adds} need the extra [{self.name}]: {self.command}"

    def need(self, place: str | None = None) -> None:
        """Go on only where it is installed.

        Raises
        ------
        ExtraError
        """
        if not self.installed:
            raise ExtraError(f"{self.adds} need the extra [{self.name}]", place=place, expected=self.command)


PDF = Extra("pdf", "PDF and PNG files", ("typst",))
WORKBENCH = Extra("workbench", "pages in the browser", ("starlette", "uvicorn", "python_multipart"))
TABLES = Extra("tables", "Parquet files", ("pyarrow",))
SPREADSHEETS = Extra("spreadsheets", "spreadsheet files (XLSX, XLS, ODS)", ("python_calamine", "xlsxwriter"))
CLUSTER = Extra("cluster", "cases on a cluster", ("distributed",))
EXTRAS = (PDF, WORKBENCH, TABLES, SPREADSHEETS, CLUSTER)
