"""One workbench on a folder of its own, spoken to in the same process."""

from __future__ import annotations

import socket
import threading

import pytest
import uvicorn
from starlette.testclient import TestClient

from landwise.workbench.app import make_app
from landwise.workbench.workspace import Workspace

ORIGIN = "http://127.0.0.1:8037"


@pytest.fixture
def workspace(tmp_path):
    return Workspace(tmp_path / "workspace")


@pytest.fixture
def client(workspace):
    with TestClient(make_app(workspace), base_url=ORIGIN, headers={"origin": ORIGIN}, follow_redirects=False) as made:
        yield made


@pytest.fixture
def kept_files(workspace):
    """What lies in the workspace, to see that nothing was written."""
    return lambda: sorted(str(path.relative_to(workspace.root)) for path in workspace.root.rglob("*"))


@pytest.fixture(scope="session")
def served(tmp_path_factory):
    """A workbench that listens, for browsers."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listener:
        listener.bind(("127.0.0.1", 0))
        app = make_app(Workspace(tmp_path_factory.mktemp("served") / "workspace"))
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", ws="none"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.02)
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        server.should_exit = True
        thread.join(10)
