"""One workbench on a folder of its own, spoken to in the same process."""

from __future__ import annotations

import pytest
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
