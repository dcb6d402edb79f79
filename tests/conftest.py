"""What tests of every package share: no silent skips in CI, and the demo railway taken in once."""

import os
import sys
from collections.abc import Generator
from pathlib import Path

import pytest
from knocking.watched import own

ROOT = Path(__file__).parent.parent
IN_CI = os.environ.get("CI", "").lower() in ("1", "true", "yes")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """In CI a skipped test fails: what cannot run there is not checked anywhere."""
    report = yield
    if IN_CI and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and in CI no test may be: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """The same for a whole module that skips itself while it is collected."""
    report = yield
    if IN_CI and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"{collector.nodeid} was skipped, and in CI no test may be: {report.longrepr}"
    return report


ASKED: list[str] = []


def _watch(event: str, arguments: tuple[object, ...]) -> None:
    if event in ("socket.connect", "socket.getaddrinfo", "socket.sendto"):
        told = repr(arguments[:2] if event == "socket.getaddrinfo" else arguments[1])
        if not own(told):
            ASKED.append(f"{event} {told}")


sys.addaudithook(_watch)


@pytest.fixture(autouse=True)
def _nobody_outside_is_asked() -> Generator[None]:
    """No test, and so no command, asks another machine."""
    ASKED.clear()
    yield
    assert ASKED == []


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    """Sheets of the demo railway."""
    return ROOT / "data_demo" / "railway"


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory: pytest.TempPathFactory, demo_folder: Path) -> Path:
    """A store with the demo railway taken in and forecast once. Look, do not write."""
    from dashboard.services.forecasting import run_forecast
    from ingest.store import Store
    from ingest.verdicts.add import add_files

    path = tmp_path_factory.mktemp("demo") / "demo.duckdb"
    add_files(Store(path), [demo_folder])
    run_forecast(Store(path))
    return path


@pytest.fixture(scope="session")
def milesleft() -> list[str]:
    """How tests call the command line: this interpreter, this checkout."""
    return [sys.executable, "-m", "dashboard.cli"]
