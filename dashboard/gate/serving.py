"""The server: Streamlit behind the gate, with safe settings, a health page, and a clean stop."""

import importlib
import logging
import os
import signal
import socket
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn
from urllib.parse import urlsplit

import streamlit as st
import uvicorn
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute, Route
from streamlit import file_util
from streamlit.web import bootstrap

from dashboard.gate.bounds import KB, Bounds
from dashboard.gate.bounds import load as load_bounds
from dashboard.gate.gate import Gate
from dashboard.gate.headers import for_pages
from dashboard.gate.hosts import names_of
from dashboard.pit.routes import routes
from dashboard.process import leave
from dashboard.screen.access import ROLES_VARIABLE, load
from dashboard.screen.served import DB_VARIABLE, health
from ingest.errors import NotPossible

APP = Path(__file__).parents[1] / "app.py"
HEALTH = "/health"


@dataclass(frozen=True)
class Serving:
    """What to serve, and where.

    Attributes
    ----------
    hosts : host names by which people reach it, beside those of this machine.
    shown_in : sites that may show it in a frame: ``https://www.example.org``.
    """

    db: Path
    address: str = "127.0.0.1"
    port: int = 8501
    base_path: str = ""
    hosts: tuple[str, ...] = ()
    roles: Path | None = None
    shown_in: tuple[str, ...] = ()
    bounds: Bounds = field(default_factory=load_bounds)

    @property
    def base(self) -> str:
        """The path under which all is served; empty for the root."""
        inner = self.base_path.strip("/")
        return f"/{inner}" if inner else ""


def serve(what: Serving) -> NoReturn:
    """Serve until stopped; the process ends with it."""
    # The server has closed by the time that it passes the signal on: the stop was asked for, no failure.
    signal.signal(signal.SIGTERM, lambda *_: leave())
    os.environ[DB_VARIABLE] = str(what.db.resolve())
    os.environ.pop(ROLES_VARIABLE, None)
    secrets: dict[str, Any] = {}
    home = ""
    if what.roles is not None:
        os.environ[ROLES_VARIABLE] = str(what.roles.resolve())
        secrets = {"auth": load(what.roles).sign_in}
        home = secrets["auth"]["redirect_uri"]
    sys.argv = [str(APP)]  # Streamlit hands what stands after the script on to it
    app = st.App(
        APP,
        secrets=secrets,
        lifespan=_lifespan,
        routes=[_health_route(what.base), *_pit_routes(what)],
        middleware=[gate(what, home)],
    )
    bootstrap.load_config_options(settings(what))
    logging.getLogger("streamlit.web.server.starlette.starlette_auth_routes").addFilter(_without_trace)
    _warm()
    with suppress(KeyboardInterrupt):
        # Streamlit's own start is not used: it takes messages of 200 MB from anybody.
        uvicorn.run(app, host=what.address, port=what.port, **uvicorn_settings(what))
    leave()


def _without_trace(record: logging.LogRecord) -> bool:
    """A provider that does not answer is said in one line: it is nobody's mistake here."""
    record.exc_info = None
    return True


def gate(what: Serving, home: str) -> Middleware:
    """The gate for what is served; ``home`` is the address that people reach it by, where roles name one."""
    reached_by = urlsplit(home)
    return Middleware(
        Gate,
        names=names_of(what.address, (*what.hosts, *filter(None, [reached_by.hostname]))),
        bounds=what.bounds,
        base=what.base,
        for_pages=for_pages(Path(file_util.get_static_dir()) / "index.html", what.shown_in),
        secure=reached_by.scheme == "https",
    )


def uvicorn_settings(what: Serving) -> dict[str, Any]:
    """How connections are held: as Streamlit would, but with messages no longer than the gate takes."""
    return {
        "ws": "websockets-sansio",
        "ws_max_size": max(what.bounds.with_role_kb, what.bounds.without_role_kb) * KB,
        "ws_per_message_deflate": False,
        "ws_ping_interval": 30,
        "ws_ping_timeout": 30,
        "access_log": False,
        "log_level": "warning",
        "server_header": False,
        "proxy_headers": False,
        "use_colors": False,
    }


def check_port(what: Serving) -> None:
    """Whether the port is free.

    Raises
    ------
    NotPossible : it is not, or the address is none of this machine's.
    """
    family = socket.AF_INET6 if ":" in what.address else socket.AF_INET
    try:
        with socket.socket(family) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind((what.address, what.port))
    except OSError as error:
        reason = (error.strerror or "not free").lower()
        raise NotPossible(
            f"Address {what.address}, port {what.port}: {reason}. Stop what uses it, or choose another with "
            "--port or --address."
        ) from None


def _warm() -> None:
    """Import what pages need, so that the first visitor does not wait for it; nothing that keeps a cache."""
    for name in (
        "dashboard.pictures.charts_record",
        "dashboard.services.casework",
        "dashboard.services.states",
        "ingest.layouts.propose",
    ):
        importlib.import_module(name)


def settings(what: Serving) -> dict[str, Any]:
    """Streamlit's settings: nothing is reported anywhere, nobody else is let in, errors stay here."""
    return {
        "server.address": what.address,
        "server.port": what.port,
        "server.baseUrlPath": what.base_path.strip("/"),
        "server.headless": True,
        "server.fileWatcherType": "none",
        "server.maxUploadSize": what.bounds.file_mb,
        "server.disconnectedSessionTTL": what.bounds.kept_s
        + 60,  # the gate ends sessions, before Streamlit forgets
        **SHUT,
        "logger.hideWelcomeMessage": True,  # the address is said by the command, unless it is to be quiet
        "browser.gatherUsageStats": False,
        "client.showErrorDetails": "none",
        "client.showErrorLinks": False,
        "client.toolbarMode": "minimal",
        "runner.magicEnabled": False,
        "client.disableDataExport": True,  # ours is offered under each table, with formula cells quoted
        **THEME,
    }


SHUT = {  # no file of settings and no variable may open what the gate's questions rest on
    "client.allowedOrigins": [],  # else pages of public hosting may talk to ours
    "global.developmentMode": False,
    "server.allowedHosts": [],
    "server.corsAllowedOrigins": [],
    "server.enableAgentApi": False,
    "server.enableCORS": True,
    "server.enableStaticServing": False,
    "server.enableWebsocketCompression": False,
    "server.enableXsrfProtection": True,
    "server.scriptHealthCheckEnabled": False,
    "server.trustedUserHeaders": {},
}
THEME = {
    "theme.base": "light",
    "theme.primaryColor": "#0b4f6c",
    "theme.backgroundColor": "#fcfbf7",
    "theme.secondaryBackgroundColor": "#f1ecdf",
    "theme.textColor": "#1f2933",
    "theme.borderColor": "#c9bfa8",
    "theme.linkColor": "#0b4f6c",
    "theme.headingFont": "serif",
    "theme.headingFontSizes": ["2.1rem", "1.6rem", "1.3rem"],
    "theme.baseRadius": "small",
}


def _pit_routes(what: Serving) -> list[BaseRoute]:
    bounds = what.bounds
    return routes(
        what.base,
        most_kb=bounds.message_kb,
        most_entries=bounds.entries,
        picture_kb=bounds.picture_kb,
    )


def _health_route(base: str) -> Route:
    return Route(base + HEALTH, _health, methods=["GET"])


async def _health(request: Request) -> JSONResponse:  # noqa: ARG001
    """Whether the store can be read."""
    from anyio import to_thread

    found, status = await to_thread.run_sync(health)
    return JSONResponse(found, status_code=status)


@asynccontextmanager
async def _lifespan(app: st.App) -> AsyncIterator[dict[str, Any]]:  # noqa: ARG001
    """Nothing is held open between calls, so a stop at any moment leaves the store whole."""
    yield {}
