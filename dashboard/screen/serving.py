"""The server: Streamlit with safe settings, a health page, and a clean stop."""

import importlib
import os
import signal
import socket
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import streamlit as st
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import Route

from dashboard.process import leave
from dashboard.screen.access import ROLES_VARIABLE, load
from dashboard.screen.served import DB_VARIABLE
from ingest.errors import NotPossible, UserError
from ingest.store import Store

APP = Path(__file__).parents[1] / "app.py"
HEALTH = "/health"
LOOPBACK = ("127.0.0.1", "localhost", "::1")


@dataclass(frozen=True)
class Serving:
    """What to serve, and where."""

    db: Path
    address: str = "127.0.0.1"
    port: int = 8501
    base_path: str = ""
    hosts: tuple[str, ...] = ()
    roles: Path | None = None


def serve(what: Serving) -> NoReturn:
    """Serve until stopped; the process ends with it."""
    os.environ[DB_VARIABLE] = str(what.db.resolve())
    os.environ.pop(ROLES_VARIABLE, None)
    secrets: dict[str, Any] = {}
    if what.roles is not None:
        os.environ[ROLES_VARIABLE] = str(what.roles.resolve())
        secrets = {"auth": load(what.roles).sign_in}
    sys.argv = [str(APP)]  # Streamlit hands what stands after the script on to it
    app = st.App(
        APP,
        secrets=secrets,
        lifespan=_lifespan,
        routes=[_health_route(what.base_path)],
        middleware=[Middleware(TrustedHostMiddleware, allowed_hosts=host_names(what))],
    )
    _warm()
    # The server has closed by the time that it passes the signal on: the stop was asked for, no failure.
    signal.signal(signal.SIGTERM, lambda *_: leave())
    with suppress(KeyboardInterrupt):
        app.run(config=settings(what))
    leave()


def host_names(what: Serving) -> list[str]:
    """Names under which it answers: another site whose name was made to mean this machine gets nothing."""
    if what.address not in LOOPBACK and not what.hosts:
        return ["*"]
    return [*LOOPBACK, "[::1]", *what.hosts]


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
        "server.maxUploadSize": 50,
        "logger.hideWelcomeMessage": True,  # the address is said by the command, unless it is to be quiet
        "browser.gatherUsageStats": False,
        "client.showErrorDetails": "none",
        "client.showErrorLinks": False,
        "client.toolbarMode": "minimal",
        "runner.magicEnabled": False,
        "client.disableDataExport": True,  # ours is offered under each table, with formula cells quoted
        **THEME,
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


def _health_route(base_path: str) -> Route:
    prefix = f"/{base_path.strip('/')}" if base_path.strip("/") else ""
    return Route(prefix + HEALTH, _health, methods=["GET"])


async def _health(request: Request) -> JSONResponse:  # noqa: ARG001
    """Whether the store can be read; no names, no figures of the railway."""
    from anyio import to_thread

    try:
        version = await to_thread.run_sync(lambda: Store(Path(os.environ[DB_VARIABLE]), wait_s=2.0).version())
    except UserError as error:
        return JSONResponse({"ok": False, "problem": type(error).__name__}, status_code=503)
    return JSONResponse({"ok": True, "data_version": version})


@asynccontextmanager
async def _lifespan(app: st.App) -> AsyncIterator[dict[str, Any]]:  # noqa: ARG001
    """Nothing is held open between calls, so a stop at any moment leaves the store whole."""
    yield {}
