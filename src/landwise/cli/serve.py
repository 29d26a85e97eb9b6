"""`landwise serve`: the workbench in the browser."""

from __future__ import annotations

from pathlib import Path

import click

SWITCH_S = 0.001  # how long one thread may hold Python: a picture that is asked for waits no longer for a figure


@click.command("serve")
@click.option("--port", type=click.IntRange(0, 65535), default=8037, show_default=True, help="0 takes any free one.")
@click.option("--workspace", "folder", default=None, metavar="FOLDER", help="Where kept studies lie; made if missing.")
@click.option(
    "--line", "line_file", default=None, metavar="LINE.toml", help="A line file, for every part, board and review."
)
@click.option("--open/--no-open", "show", default=True, help="Open the browser.")
def command(port: int, folder: str | None, line_file: str | None, show: bool) -> None:
    """Open the workbench in the browser: the same engine, with drawings that move as you ask.

    It serves this machine only, loads nothing from outside, and writes in its workspace folder only.
    Ctrl-C ends it.

    With --line, parts, boards and reviews are worked with a line file, as `compare`, `study` and `review` do.

    Examples: landwise serve --workspace boards/; landwise serve --line line.toml
    """
    import contextlib
    import socket
    import sys
    import threading
    import webbrowser

    from landwise.extras import WORKBENCH

    WORKBENCH.need("landwise serve")
    import uvicorn

    from landwise.disk import cache_folder
    from landwise.errors import FileError
    from landwise.memory import keep_in_cache_folder
    from landwise.workbench.ahead import Neighbour
    from landwise.workbench.app import make_app, warm_up
    from landwise.workbench.ending import Server
    from landwise.workbench.ownline import OwnLine
    from landwise.workbench.patience import Patient
    from landwise.workbench.workspace import Workspace, default_folder

    own = OwnLine.read(line_file) if line_file else None
    keep_in_cache_folder()
    cache = cache_folder()
    sys.setswitchinterval(SWITCH_S)
    workspace = Workspace(Path(folder) if folder else default_folder())
    # Named as TCP, or asyncio leaves small packets waiting for 40 ms.
    with workspace.held(), socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listener:
        # Windows lets a second program share a reused port, and has an option of its own against it.
        alone = getattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_REUSEADDR)
        listener.setsockopt(socket.SOL_SOCKET, alone, 1)
        try:
            listener.bind(("127.0.0.1", port))
            listener.listen(64)  # from here on a browser waits instead of being turned away
        except OSError as error:
            raise FileError(
                "can't take the port", found=f"{port}: {error.strerror}", expected="another --port"
            ) from None
        address = f"http://127.0.0.1:{listener.getsockname()[1]}/"
        click.echo(f"workbench: {address}   workspace: {workspace.root}   Ctrl-C ends it")
        if show:
            timer = threading.Timer(0.6, webbrowser.open, [address])
            timer.daemon = True
            timer.start()
        app = make_app(workspace, neighbour=Neighbour(cache) if cache else None, own=own)
        warm_up(app)
        server = Server(
            uvicorn.Config(
                app,
                http=Patient,
                log_level="warning",
                access_log=False,
                server_header=False,
                proxy_headers=False,
                ws="none",
                limit_concurrency=64,
                h11_max_incomplete_event_size=32_768,
                timeout_keep_alive=75,
                timeout_graceful_shutdown=2,
            ),
            app.state.desk.turns.end,
        )
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[listener])
