"""Stores made of small tables that are given as text."""

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.report import AddReport

TODAY = date(2026, 6, 1)

VEHICLES = """vehicle,name,arrangement,class
410,Saltmarsh,2-8-0,B
"""
POINTS = """point,vehicle,component,position,quantity,unit,new_value,condemning_limit,limit_source,gauge_sd
HOLLOW,410,driver tire,driver 1 left,tread hollow,in,0,5/16,49 CFR 230.113(h),0.01
THICK,410,driver tire,driver 1 left,thickness,in,3 1/2,1 3/4,own rule,0.02
LIFT,410,lubricator,left,use,%,0,50,own rule,1
"""
LOG = """vehicle,date,odometer,unit
410,2001-01-01,10000,mi
410,2001-07-01,11000,mi
410,2002-01-01,12000,mi
"""


@pytest.fixture
def basics() -> dict[str, str]:
    """One vehicle, three wear points and a year of mileage as text."""
    return {"vehicles": VEHICLES, "wear_points": POINTS, "mileage": LOG}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty folder for files."""
    made = tmp_path / "files"
    made.mkdir()
    return made


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """A store that does not exist yet."""
    return Store(tmp_path / "store.duckdb", wait_s=10)


@pytest.fixture
def add(folder: Path, store: Store) -> Callable[..., AddReport]:
    """Add tables given as text: add(readings=...); several files in one call."""

    def adder(**tables: str) -> AddReport:
        paths = []
        for name, text in tables.items():
            path = folder / f"{name}.csv"
            path.write_text(text)
            paths.append(path)
        return add_files(store, paths, who="tester", today=TODAY)

    return adder


@pytest.fixture(scope="session")
def known_once(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, AddReport]:
    """A store of the basics, to copy."""
    folder = tmp_path_factory.mktemp("known")
    tables = {"vehicles": VEHICLES, "wear_points": POINTS, "mileage": LOG}
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text)
    store = Store(folder / "store.duckdb")
    report = add_files(store, [folder / f"{name}.csv" for name in tables], today=TODAY)
    assert report.count("accepted") == 7
    return store.path, report


@pytest.fixture
def known(store: Store, known_once: tuple[Path, AddReport]) -> AddReport:
    """The basics, stored."""
    path, report = known_once
    shutil.copyfile(path, store.path)
    return report


@pytest.fixture(scope="session")
def demo_taken(tmp_path_factory: pytest.TempPathFactory, demo_folder: Path) -> Store:
    """A store with the sheets of the demo railway, bad rows among them. Look, do not write."""
    store = Store(tmp_path_factory.mktemp("taken") / "demo.duckdb")
    add_files(store, [demo_folder], today=date(2026, 12, 1))
    return store
