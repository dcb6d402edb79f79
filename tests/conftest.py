"""What tests of every package share: no silent skips in CI, and the demo railway taken in once."""

import fcntl
import functools
import os
import shutil
import sys
from collections.abc import Callable, Generator
from pathlib import Path

import pytest
from knocking.watched import own

ROOT = Path(__file__).parent.parent
IN_CI = os.environ.get("CI", "").lower() in ("1", "true", "yes")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long tests may last; every other one ends, if need be as failed (``timeout`` of the settings)."""
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker(pytest.mark.timeout(0))


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


SCRIPT = sys.modules["__main__"]


@pytest.fixture(autouse=True)
def _a_page_leaves_the_script_of_the_tests() -> Generator[None]:
    """A page that is tested without a server takes its place, and processes started later would run it."""
    yield
    sys.modules["__main__"] = SCRIPT


@pytest.fixture(autouse=True)
def _installed_packages_are_looked_through_once() -> None:
    """Streamlit looks through all of them anew for each page that is tested: 0.1 s of the processor."""
    scanner = sys.modules.get("streamlit.components.v2.manifest_scanner")  # from the first page on
    if scanner is not None and not hasattr(scanner.scan_component_manifests, "cache_info"):
        scanner.scan_component_manifests = functools.cache(scanner.scan_component_manifests)


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    """Sheets of the demo railway."""
    return ROOT / "data_demo" / "railway"


@pytest.fixture(scope="session")
def once(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, Callable[[Path], None]], Path]:
    """``once(name, make)``: one's own folder with what ``make(folder)`` wrote, made once for all workers.

    Each worker of a run gets a copy, so that one that writes does not disturb the others.
    """
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent

    def copy(name: str, make: Callable[[Path], None]) -> Path:
        made = shared / f"{name}-made"
        with (shared / f"{name}.lock").open("w") as turn:
            fcntl.flock(turn, fcntl.LOCK_EX)  # the others wait for the first
            if not made.exists():
                being_made = shared / f"{name}-in-the-making"  # after a failure the next tries anew
                shutil.rmtree(being_made, ignore_errors=True)
                being_made.mkdir()
                make(being_made)
                being_made.rename(made)
        return Path(shutil.copytree(made, tmp_path_factory.mktemp(name), dirs_exist_ok=True))

    return copy


@pytest.fixture(scope="session")
def demo_store(once: Callable[[str, Callable[[Path], None]], Path], demo_folder: Path) -> Path:
    """A store with the demo railway taken in and forecast once. Look, do not write."""
    from dashboard.services.forecasting import run_forecast
    from ingest.store import Store
    from ingest.verdicts.add import add_files

    def make(folder: Path) -> None:
        store = Store(folder / "demo.duckdb")
        add_files(store, [demo_folder])
        run_forecast(store)

    return once("demo_store", make) / "demo.duckdb"


@pytest.fixture(scope="session")
def milesleft() -> list[str]:
    """How tests call the command line: this interpreter, this checkout."""
    return [sys.executable, "-m", "dashboard.cli"]
