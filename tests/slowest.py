"""Where the suite's processor time goes: `make slowest` prints it by file and by test, and fails nothing.

A plugin, used only when named (`-p tests.slowest`). Processor time of a test, its fixtures and the processes that it
ended, not wall-clock time: other work on the machine changes that by a few per cent only. What a shared fixture or
cache costs is counted to the first test that needs it.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator

import pytest

MOST_FILES, MOST_TESTS = 40, 60
NAMED = "processor seconds"
LOG = "LANDWISE_SLOWEST"  # environment: a file that gets a line per test as they end, for a run that may be cut off

_spent: dict[str, float] = {}


def _now_s() -> float:
    return sum(os.times()[:4])


def _timed(item: pytest.Item) -> Iterator[None]:
    begun = _now_s()
    yield
    item.user_properties.append((NAMED, _now_s() - begun))


pytest_runtest_setup = pytest.hookimpl(hookwrapper=True)(_timed)
pytest_runtest_call = pytest.hookimpl(hookwrapper=True)(_timed)
pytest_runtest_teardown = pytest.hookimpl(hookwrapper=True)(_timed)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Where the run is told of its tests: in the process that prints, not in its workers."""
    if report.when != "teardown" or "PYTEST_XDIST_WORKER" in os.environ:
        return
    _spent[report.nodeid] = sum(value for name, value in report.user_properties if name == NAMED)
    if LOG in os.environ:
        with open(os.environ[LOG], "a", encoding="utf-8") as log:
            log.write(f"{_spent[report.nodeid]:.2f} {report.nodeid}\n")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """The two tables."""
    files: Counter[str] = Counter()
    for name, seconds in _spent.items():
        files[name.partition("::")[0]] += seconds
    many = Counter(name.partition("::")[0] for name in _spent)
    terminalreporter.section(f"processor time: {sum(_spent.values()):.0f} s in {len(_spent)} tests")
    for name, seconds in files.most_common(MOST_FILES):
        terminalreporter.write_line(f"{seconds:7.1f} s  {many[name]:5d} tests  {name}")
    terminalreporter.write_line("")
    for name, seconds in Counter(_spent).most_common(MOST_TESTS):
        terminalreporter.write_line(f"{seconds:7.1f} s  {name}")
