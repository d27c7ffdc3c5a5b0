"""The application: the routes of every page, the front end, and the guard before them."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.responses import HTMLResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from pappus.web.before import ROUTERS as BEFORE
from pappus.web.day import ROUTERS as DAY
from pappus.web.desk import ROUTERS as DESK
from pappus.web.desk import Desk, DeskRoute, Guard, Problem, install, role_of

ROUTERS = (*DESK, *BEFORE, *DAY)
OPEN = {"/api/enter"}
"""Routes that ask for no role; there is no other."""
LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
_NOT_BUILT = (
    "<!doctype html><meta charset=utf-8><title>pappus</title><h1>The pages are not built</h1>"
    "<p>Run <code>pip install .</code> in the checkout, or <code>npm ci</code> and <code>npm run build</code> "
    "in its folder <code>frontend</code>.</p>"
)
_REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": Problem} for status in (400, 401, 403, 404, 409, 413, 421, 422, 429)
}


def create_app(desk: Desk, static: Path | None = None) -> FastAPI:
    """The desk as an ASGI application; ``static`` is the folder of the built front end.

    Raises ``RuntimeError`` when a route asks for no role: nothing is open by oversight.
    """
    app = FastAPI(title="pappus desk", version="1", docs_url=None, redoc_url=None, openapi_url=None)
    app.state.desk = desk
    install(app)
    for router in ROUTERS:
        for route in router.routes:
            if not isinstance(route, DeskRoute) or (route.path not in OPEN and role_of(route) is None):
                raise RuntimeError(f"the route {getattr(route, 'path', route)} asks for no role")
        app.include_router(router, responses=_REFUSALS)
    folder = static or static_folder()
    if (folder / "index.html").is_file():
        app.mount("/", Pages(directory=folder, html=True), name="pages")
    else:
        app.add_route("/", lambda _: HTMLResponse(_NOT_BUILT, 503))
    shared = desk.share.hosts if desk.share is not None else frozenset[str]()
    app.add_middleware(Guard, hosts=LOOPBACK | shared)
    return app


def static_folder() -> Path:
    """Where the package build puts the front end."""
    return Path(str(files("pappus.web"))) / "static"


class Pages(StaticFiles):
    """The built front end: files whose name holds their digest stay, the page that names them is asked for anew."""

    def file_response(self, *args: Any, **options: Any) -> Response:
        """As Starlette does it, with how long it may be kept."""
        response = super().file_response(*args, **options)
        scope: Scope = args[2] if len(args) > 2 else options["scope"]
        lasting = scope["path"].startswith("/assets/")
        response.headers["Cache-Control"] = "public, max-age=31536000, immutable" if lasting else "no-cache"
        return response
