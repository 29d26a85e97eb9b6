"""Compiled templates, kept where Python keeps compiled modules: a page's templates are compiled once, not at every run.

They lie in the `__pycache__` beside the templates (or below `PYTHONPYCACHEPREFIX`), and are trusted as far as Python
trusts what lies there. Where it writes nothing, or may not, templates are compiled at every run.
"""

from __future__ import annotations

import os
import pickle
import sys
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path

from jinja2 import BytecodeCache, Environment, __version__
from jinja2.bccache import Bucket

from landwise.errors import FileError
from landwise.sheets.files import write_atomic

NO_PLACE = NotImplementedError  # from a Python that keeps no compiled modules
UNREADABLE = (OSError, EOFError, ValueError, TypeError, AttributeError, ImportError, IndexError, pickle.UnpicklingError)


class Compiled(BytecodeCache):
    """Compiled templates beside their sources, for one environment's options.

    Parameters
    ----------
    options : str
        Everything beside the source that the compiled template follows from.
    """

    def __init__(self, options: str) -> None:
        self._options = f"{__version__} {options}"

    def get_cache_key(self, name: str, filename: str | None = None) -> str:
        """The file of the template: where it lies says where it is kept."""
        return filename or name

    def get_source_checksum(self, source: str) -> str:
        """Of the source and all else that the compiled template follows from."""
        return super().get_source_checksum(f"{self._options}\n{source}")

    def load_bytecode(self, bucket: Bucket) -> None:
        """Take what is kept, if it was made of the same source."""
        with suppress(NO_PLACE, *UNREADABLE), _place(bucket).open("rb") as file:
            bucket.load_bytecode(file)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a compiled template, where Python would keep a module."""
        if sys.dont_write_bytecode:
            return
        with suppress(NO_PLACE, OSError, FileError):
            place = _place(bucket)
            os.makedirs(place.parent, exist_ok=True)
            write_atomic(place, bucket.bytecode_to_string())


def _place(bucket: Bucket) -> Path:
    return Path(cache_from_source(bucket.key))


def compiled_once(environment: Environment) -> Environment:
    """The environment, whose templates are compiled once."""
    told = (environment.autoescape, environment.trim_blocks, environment.lstrip_blocks, environment.undefined.__name__)
    environment.bytecode_cache = Compiled(repr(told))
    return environment
