"""No test reads or writes the user's cache folder: all of one run share a folder of their own, empty when it begins.

Results are kept there under all that they follow from, as a user's are, so that no board is judged twice by the
processes and workers of one run. Tests of cold paths and of the cache itself switch it off or take a folder of theirs.

Nor is what earlier tests left looked through for rubbish again and again: a process keeps hundreds of megabytes of
studies that later tests read, and looking through them took up to half a second at a time. What is left at the end of
a file is set aside.
"""

from __future__ import annotations

import gc
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from landwise.board import ahead
from landwise.disk import Disk
from landwise.memory import forget, keep_in_cache_folder, keep_on_disk, kept_on
from landwise.results import file as result_file
from landwise.results.resultjson import ResultJson
from whole import WHOLE

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from landwise.board.result import BoardResult
    from landwise.judging.results import StudyResult

SELDOM = 100_000, 50, 1_000  # objects made, collections of the young, collections of the middle
# Made-up inputs where a test states no number of its own: the same ones in every run, nothing kept of runs before; with
# LANDWISE_WHOLE=1 other ones every time, and more. How long one takes says nothing on a machine with other work.
settings.register_profile("sample", derandomize=True, max_examples=50, database=None, deadline=None)
settings.register_profile("whole", max_examples=200, deadline=None)
settings.load_profile("whole" if WHOLE else "sample")
SHARED = "LANDWISE_TEST_CACHE"  # environment: told by the process that made the folder to its workers


def pytest_configure(config: pytest.Config) -> None:
    """The folder of this run, made before any worker starts."""
    if SHARED not in os.environ:
        os.environ[SHARED] = tempfile.mkdtemp(prefix="landwise-tests-")
        config.add_cleanup(lambda: shutil.rmtree(os.environ.pop(SHARED), ignore_errors=True))
    os.environ["LANDWISE_CACHE"] = os.environ[SHARED]
    keep_in_cache_folder()
    ahead.WORTH = 1_000_000  # the workers of a run have the cores already; the test of it asks for its own
    gc.set_threshold(*SELDOM)
    _hold_to_the_schema()


def _hold_to_the_schema() -> None:
    """Every `result.json` that a test makes follows the schema's own models: a command does not look at its own."""
    real = result_file.result_data

    def checked(result: StudyResult | BoardResult) -> dict[str, object]:
        data = real(result)
        ResultJson.model_validate(data)
        return data

    result_file.result_data = checked


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> Iterator[None]:
    """Collect rubbish once the fixtures of a file are gone, and set aside what is left."""
    yield
    gc.enable()  # a command that the test ran may have switched it off, as its process ends soon
    if nextitem is None or nextitem.path != item.path:
        gc.collect()
        gc.freeze()


@pytest.fixture(autouse=True)
def shared_cache() -> None:
    """What is known lies in the run's folder, whatever the test before did."""
    keep_in_cache_folder()


@pytest.fixture
def own_disk(tmp_path: Path) -> Iterator[None]:
    """A cache folder of the test's own, empty, with nothing known in this process; afterwards what was there before."""
    before = kept_on()
    keep_on_disk(Disk(tmp_path))
    forget()
    yield
    keep_on_disk(before)
    forget()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One headless browser for all tests of a process that need one; each opens pages of its own."""
    from playwright.sync_api import sync_playwright

    from workbench.browsers import CHROMIUM

    with sync_playwright() as play:
        made = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield made
        made.close()
