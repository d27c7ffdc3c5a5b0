"""Serve the desk until it is stopped."""

from __future__ import annotations

import asyncio
import contextlib
import ctypes
import logging
import signal
import socket
import threading
import webbrowser
from collections.abc import Callable, Generator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import uvicorn

from pappus.errors import BadInput, Finding, PappusError
from pappus.web._app import create_app
from pappus.web.before import plan_answer
from pappus.web.day import end_days
from pappus.web.desk import Desk, desk_folder, map_text
from pappus.web.desk import share as make_share

PORT = 8340
_M_ARENA_MAX, _ARENAS = -8, 2
"""By this number malloc.h of the GNU C library knows the most arenas that it may keep."""


def _say(line: str) -> None:
    print(line, flush=True)


def run_desk(
    plan: Path = Path("flight.toml"),
    *,
    port: int = PORT,
    share: bool = False,
    pack: Path | None = None,
    prior: Path | None = None,
    store: Path | None = None,
    browser: bool = True,
    say: Callable[[str], None] = _say,
    static: Path | None = None,
) -> None:
    """Serve on the loopback address, with ``share`` also over https on the local network, one port higher.

    Ctrl-C and SIGTERM end it: a watch or rehearsal that runs is stopped, and its record says so.

    Raises ``BadInput`` when a port is taken.
    """
    spare_memory()
    sockets = [_listen("127.0.0.1", port)]
    port = sockets[0].getsockname()[1]
    folder, shared = desk_folder(plan), None
    if share:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        sockets.append(_listen("0.0.0.0", port + 1))
        shared = make_share(folder, port + 1, datetime.now(UTC))
    desk = Desk(plan, pack=pack, prior=prior, store=store, share=shared)
    app = create_app(desk, static)
    # the app has nothing to begin or end of its own: asked for it, the server that is ended would tell of its end
    options: dict[str, Any] = {
        "log_level": "warning", "access_log": False, "server_header": False, "ws": "none", "lifespan": "off",
    }  # fmt: skip
    servers = [_Server(uvicorn.Config(app, **options))]
    if shared is not None:
        options |= {"ssl_certfile": str(shared.certificate), "ssl_keyfile": str(shared.private_key)}
        servers.append(_Server(uvicorn.Config(app, **options)))
        # a phone that does not trust the certificate yet breaks off; that is no news
        logging.getLogger("asyncio").setLevel(logging.CRITICAL)
    link = f"http://127.0.0.1:{port}/#enter={desk.people.laptop_key}"
    say(f"The desk of {plan.name}: {link}")
    if shared is not None:
        say(f"For the crew: {shared.address}; make each their own link on the page, under People.")
        say(f"SHA-256 of its certificate: {shared.fingerprint}")
    say("Stop it with Ctrl-C.")
    threading.Thread(target=_warm_up, args=(desk,), daemon=True).start()
    if browser:
        webbrowser.open(link)
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_serve(servers, sockets))
    end_days(desk)
    desk.jobs.close()


class _Server(uvicorn.Server):
    """Two servers share one loop: what ends that ends both."""

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        yield


def spare_memory() -> bool:
    """Have threads share what they free; whether this system can. Call it before there are threads.

    The GNU C library keeps what each thread has freed for that thread: each prediction leaves tens of megabytes behind
    that no other thread is given.
    """
    try:
        return bool(ctypes.CDLL(None).mallopt(_M_ARENA_MAX, _ARENAS))
    except (OSError, AttributeError, TypeError):
        return False


def _warm_up(desk: Desk) -> None:
    """Have the plan's answer and the map ready when the first page asks; the page tells what is wrong."""
    with contextlib.suppress(PappusError, OSError):
        plan_answer(desk)
        map_text(desk)


async def _serve(servers: list[_Server], sockets: list[socket.socket]) -> None:
    serving = asyncio.current_task()
    assert serving is not None
    # where there are no such signals, as on Windows, Ctrl-C is the only way
    with contextlib.suppress(NotImplementedError):
        asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, serving.cancel)
    tasks = [asyncio.create_task(server.serve(sockets=[one])) for server, one in zip(servers, sockets, strict=True)]
    try:
        await asyncio.gather(*tasks)
    except asyncio.CancelledError:
        for server in servers:
            server.force_exit = server.should_exit = True  # open event streams never end by themselves
        await asyncio.gather(*tasks, return_exceptions=True)


def _listen(host: str, port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen(200)  # the browser may come before the server is ready
    except (OSError, OverflowError) as error:
        listening.close()
        fix = "Another desk may be open; give another one, such as --port 8350."
        raise BadInput(Finding("--port", str(port), f"cannot be used: {error}", fix)) from error
    return listening
