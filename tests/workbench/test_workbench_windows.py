"""The workbench starts without what only POSIX systems have: the nearest to Windows that a POSIX machine can show."""

from __future__ import annotations

import ast
import http.client
import re
import subprocess
import sys
from pathlib import Path

import pytest

import landwise

POSIX_ONLY = frozenset({"fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios", "tty"})
POSIX_NAMES = {
    "os": frozenset(
        {*("fork", "forkpty", "getuid", "geteuid", "getgid", "getpgid", "killpg", "setsid", "uname", "getloadavg")}
        | {*("sched_getaffinity", "chown", "mkfifo", "statvfs", "nice", "wait3", "O_DIRECTORY", "O_NOFOLLOW")}
    ),
    "signal": frozenset(
        {"SIGKILL", "SIGALRM", "SIGHUP", "SIGUSR1", "SIGUSR2", "alarm", "setitimer", "pthread_sigmask"}
    ),
    "socket": frozenset({"AF_UNIX", "socketpair", "SO_REUSEPORT"}),
}
PAGES = ("/", "/boards", "/reviews", "/book")
# The standard library adapts to its system by itself; whoever else asks for a POSIX module is turned away, and the
# names that Windows lacks are gone.
WITHOUT_POSIX = """
import asyncio, builtins, os, sys, tempfile, subprocess, socket, signal, threading, webbrowser, concurrent.futures
usual = builtins.__import__
def without(name, globals=None, locals=None, fromlist=(), level=0):
    asker = (globals or {}).get("__name__", "").partition(".")[0]
    if name.partition(".")[0] in BLOCKED and asker not in sys.stdlib_module_names:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name)
    return usual(name, globals, locals, fromlist, level)
builtins.__import__ = without
for name in GONE:
    if hasattr(os, name):
        delattr(os, name)
from landwise.cli import main
main(sys.argv[1:])
"""


def started(code, *words):
    return subprocess.Popen(
        [sys.executable, "-X", "utf8=0", "-c", code, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def without_posix():
    # The standard library of a POSIX system itself calls uname, and names flags at import.
    gone = sorted(POSIX_NAMES["os"] - {"O_DIRECTORY", "O_NOFOLLOW", "uname"})
    return f"BLOCKED, GONE = {sorted(POSIX_ONLY)!r}, {gone!r}\n{WITHOUT_POSIX}"


def test_the_server_starts_answers_and_holds_its_folder_without_posix_modules(tmp_path):
    words = ("serve", "--port", "0", "--no-open", "--workspace", str(tmp_path / "kept"))
    server = started(without_posix(), *words)
    try:
        line = server.stdout.readline()
        found = re.match(r"workbench: http://127\.0\.0\.1:(\d+)/", line)
        assert found, line or server.stderr.read()
        asked = http.client.HTTPConnection("127.0.0.1", int(found[1]), timeout=60)
        for page in PAGES:
            asked.request("GET", page)
            answer = asked.getresponse()
            assert answer.status in (200, 303, 307), page
            answer.read()
        asked.close()
        second = started(without_posix(), *words)
        assert "another workbench works in this folder" in second.communicate(timeout=60)[1]
        assert second.returncode == 2
    finally:
        server.terminate()
        server.communicate(timeout=60)


@pytest.mark.parametrize("wrong", ["import fcntl", "import os, pwd"])
def test_the_fence_turns_away_who_asks_for_a_posix_module(wrong):
    code = without_posix().replace("from landwise.cli import main\nmain(sys.argv[1:])", wrong)
    assert "ModuleNotFoundError" in started(code).communicate(timeout=60)[1]


NAMED = re.compile(rf"\b({'|'.join(sorted(POSIX_ONLY.union(*POSIX_NAMES.values())))})\b")


def posix_uses(text):
    if not NAMED.search(text):
        return []  # no name stands in it: not to be taken apart
    found = []
    for node in ast.walk(ast.parse(text)):
        names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        found += [name for name in names if name in POSIX_ONLY]
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            found += [f"{node.value.id}.{node.attr}"] * (node.attr in POSIX_NAMES.get(node.value.id, ()))
    return found


def test_no_module_names_what_windows_lacks():
    folder = Path(landwise.__file__).parent
    texts = {path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8") for path in folder.rglob("*.py")}
    asked = {
        (name, use)
        for name, text in texts.items()
        for use in posix_uses(text)
        if f"hasattr({use[: use.find('.')]}," not in text
    }
    assert asked == set()
    assert posix_uses("import pwd\nfrom fcntl import flock\nos.fork()") == ["pwd", "fcntl", "os.fork"]


def test_files_are_read_and_written_as_utf8_whatever_the_system_says():
    folder = Path(landwise.__file__).parent
    asked = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--isolated", "--preview", "--select", "PLW1514", str(folder)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert asked.returncode == 0, asked.stdout
