"""No test reads or writes the user's cache folder: all of one run share a folder of their own, empty when it begins.

Results are kept there under all that they follow from, as a user's are, so that no board is judged twice by the
processes and workers of one run. Tests of cold paths and of the cache itself switch it off or take a folder of theirs.
"""

from __future__ import annotations

import os
import shutil
import tempfile

import pytest

from landwise.board import ahead
from landwise.memory import keep_in_cache_folder

SHARED = "LANDWISE_TEST_CACHE"  # environment: told by the process that made the folder to its workers


def pytest_configure(config: pytest.Config) -> None:
    """The folder of this run, made before any worker starts."""
    if SHARED not in os.environ:
        os.environ[SHARED] = tempfile.mkdtemp(prefix="landwise-tests-")
        config.add_cleanup(lambda: shutil.rmtree(os.environ.pop(SHARED), ignore_errors=True))
    os.environ["LANDWISE_CACHE"] = os.environ[SHARED]
    keep_in_cache_folder()
    ahead.WORTH = 1_000_000  # the workers of a run have the cores already; the test of it asks for its own


@pytest.fixture(autouse=True)
def shared_cache() -> None:
    """What is known lies in the run's folder, whatever the test before did."""
    keep_in_cache_folder()
