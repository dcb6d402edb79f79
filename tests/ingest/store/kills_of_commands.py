"""Kill whatever writes at random moments: the store is as before or as after; prints the counts.

Run: python tests/ingest/store/kills_of_commands.py FOLDER KILLS [SEED] [COMMAND...]. KILLS are shared out
among the commands. Each runs through the command line in a forked process that is killed with SIGKILL; every
look is a process of its own. Two kills of three fall evenly over the time that the command takes, the third
near its end, where it writes: that moment is followed as it shifts. Afterwards nothing may be left but the
store, its locks, and what the next command that needs a scratch folder clears.
"""

import importlib
import json
import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stdout, suppress
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2]))

from kills import answer, in_child
from pages.writers import begun, on_store, writers
from pages.writers import made as files_of

from dashboard.cli import main as milesleft
from dashboard.pit.confirmed import take_in
from dashboard.pit.entries import entries_of
from dashboard.pit.pictures import take_in_picture
from ingest.scratch import clear_dead

OLD = Path(__file__).parent / "data" / "backup_of_form_2.zip"
LOADED = (
    [
        "add",
        "forecast",
        "plan",
        "score",
        "brief",
        "held",
        "undo",
        "backup",
        "restore",
        "correct",
        "learn_from",
    ],
    ["forecasting", "planning", "scoring", "casework"],
)
"""What is imported once, so that a kill falls into the work and not into the start of the program."""
OFTEN = {
    **{"add": 5, "add --answer": 4, "add --layout": 4, "undo": 4, "backup": 4, "restore": 4, "migration": 4},
    **{"held accept": 3, "held correct": 3, "held dismiss": 3, "held retry": 3, "correct": 4, "brief": 3},
    **{"opening found": 3, "readings at the engine": 4, "photo at the engine": 4},
    **{"plan": 2, "plan --approve": 3, "plan --withdraw": 3, "learn-from": 3},
}
"""How often a command is killed against the others; 1 where nothing is said: it takes long."""


def at_the_engine(path: Path, photo: Path | None = None) -> None:
    """What a phone sends: readings and a crack, or a photo."""
    from ingest.store import Store

    today, about = date(2023, 11, 1), {"date": "2023-10-20", "observer": "A. R.", "note": ""}
    if photo is not None:
        said = {**about, "id": "client-0009", "point": "N-XH-L"}
        told = [take_in_picture(Store(path), photo.read_bytes(), said, "a phone", today)]
    else:
        sent = [
            {**about, "id": f"client-000{n}", "kind": kind, "point": point, "value": value, "unit": "in"}
            for n, (kind, point, value) in enumerate(SENT)
        ]
        told = take_in(Store(path), entries_of(json.dumps({"entries": sent}).encode(), 500), "a phone", today)
    assert all(each["verdict"] == "accepted" for each in told), told


SENT = (("reading", "N-D1L-HOLLOW", "0.18"), ("reading", "N-D1R-HOLLOW", "0.18"), ("cracked", "N-XH-R", ""))


def run(path: Path, *arguments: object) -> None:
    """A command on the store, or what a phone sends to it, in this process."""
    if arguments[0] == "at the engine":
        at_the_engine(path, *map(Path, map(str, arguments[1:])))
        return
    try:
        with redirect_stdout(sys.stderr):  # what this script prints is JSON alone
            milesleft([*on_store(path, *arguments)])
    except SystemExit as ended:
        if ended.code:
            raise AssertionError(arguments) from None


def state(path: Path) -> object:
    """Rows of every table, runs and whether each has its frames, whether each batch is whole."""
    import duckdb

    from ingest.store import Store

    store = Store(path, wait_s=5)
    store.read_all()  # it opens, and is brought up to date
    with duckdb.connect(str(path)) as connection:
        tables = [row[0] for row in connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()]
        counts = {t: connection.execute(f"SELECT count(*) FROM {t}").fetchall()[0][0] for t in sorted(tables)}
        runs = connection.execute(
            "SELECT kind, count(name) FROM run LEFT JOIN run_frame USING (run_id) "
            "GROUP BY run_id, kind ORDER BY ALL"
        ).fetchall()
    return [counts, [list(row) for row in runs]]


def commands(folder: Path) -> dict[str, tuple[object, ...]]:
    """Every command that writes, as it is called on a copy of the store; asked of a process of its own."""
    written = answer(
        lambda: [[name, list(map(str, words))] for name, words in writers(base(folder), folder).items()]
    )
    return {
        **{name: tuple(words) for name, words in written if name not in KEPT_APART},
        "backup": ("backup", folder / "b.zip"),
        "restore": ("restore", folder / "b.zip", "--replace"),
        "migration": ("held",),
        "readings at the engine": ("at the engine",),
        "photo at the engine": ("at the engine", folder / "a.png"),
    }


KEPT_APART = ("share", "learn-from --forget")
"""The one writes a file alone, the other needs what another writer brought."""


def base(folder: Path) -> Path:
    """The store that most commands begin from."""
    return folder / "base.duckdb"


def made(folder: Path) -> None:
    """The stores and files that the commands begin from."""
    with redirect_stdout(sys.stderr):
        files_of(folder)
        begun(base(folder), folder)
    run(base(folder), "backup", folder / "b.zip")
    run(folder / "other.duckdb", "add", folder / "files" / "vehicles.csv")
    old(folder / "old.duckdb", folder)


def old(path: Path, folder: Path) -> None:
    """A store of an earlier form, filled from a backup of that time."""
    import duckdb

    from ingest.store import migrate
    from ingest.store.rebuild import unpack

    parts = folder / "parts"
    parts.mkdir()
    about = unpack(OLD, parts, OLD.name)
    with duckdb.connect(str(path)) as connection:
        migrate.bring_up_to_date(connection, until=about["form"])
        for table in about["tables"]:
            if table != "migration" and not table.startswith("frame_"):
                file = str(parts / f"{table}.parquet")
                connection.execute(f"INSERT INTO {table} BY NAME SELECT * FROM read_parquet(?)", [file])
    shutil.rmtree(parts)


def killed_once(work: Callable[[], object], after_s: float) -> bool:
    """Start the work in a process group of its own, kill it after a while; whether it was still at it."""

    def apart() -> None:
        os.setsid()
        work()

    child = in_child(apart)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    was_alive = os.WIFSIGNALED(os.waitpid(child, 0)[1])
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # those that it had started itself, and no others
    return was_alive


def kill_command(
    folder: Path, name: str, arguments: tuple[object, ...], kills: int, rng: random.Random
) -> dict[str, int]:
    """Kill one command that often; AssertionError at the first store that is neither as before nor after."""
    begins = folder / {"restore": "other.duckdb", "migration": "old.duckdb"}.get(name, base(folder).name)
    place = folder / f"in {name}"
    place.mkdir()
    path = place / "store.duckdb"
    if name in ("backup", "brief"):
        arguments = tuple(place / Path(a).name if str(a).startswith(str(folder)) else a for a in arguments)

    def fresh() -> None:
        for left in place.glob("store.duckdb*"):
            left.unlink()
        shutil.copyfile(begins, path)

    fresh()
    before = answer(lambda: state(path))
    fresh()
    begun = time.perf_counter()
    if os.waitpid(in_child(lambda: run(path, *arguments)), 0)[1]:
        raise AssertionError(f"{name} does not end well")
    span = time.perf_counter() - begun
    after = answer(lambda: state(path))
    found = {"kills": 0, "as_before": 0, "as_after": 0}
    while found["kills"] < kills:
        fresh()
        near_end = rng.random() < 1 / 3
        wait = span * (rng.uniform(0.85, 1.05) if near_end else rng.uniform(0, 1))
        was_alive = killed_once(lambda: run(path, *arguments), wait)
        now = answer(lambda: state(path))
        if now not in (before, after):
            raise AssertionError(f"{name}: the store is {now}; before {before}, after {after}")
        if (
            name == "backup"
            and os.waitpid(in_child(lambda: run(path, "restore", place / "b.zip", "--check")), 0)[1]
        ):
            raise AssertionError("the backup that stood there is gone or half")
        clear_dead(place)
        left = [p.name for p in place.iterdir() if p.name.startswith((".", "store.duckdb.new"))]
        if left:
            raise AssertionError(f"{name} left {left}")
        found["kills"] += was_alive
        found["as_before" if now == before else "as_after"] += was_alive
        if near_end:
            span *= 0.96 if not was_alive else 1.05
    return found


def main(folder: Path, kills: int, seed: int, names: list[str]) -> dict[str, dict[str, int]]:
    """Kill the commands, sharing out the kills."""
    for room, modules in zip(("commands", "services"), LOADED, strict=True):
        for module in modules:
            importlib.import_module(f"dashboard.{room}.{module}")
    folder.mkdir(parents=True, exist_ok=True)
    if os.waitpid(in_child(lambda: made(folder)), 0)[1]:
        raise AssertionError("the stores to begin from could not be made")
    known = commands(folder)
    names = names or list(known)
    weights = {name: OFTEN.get(name, 1) for name in names}
    rng = random.Random(seed)
    out = {}
    for name in names:
        share = max(1, round(kills * weights[name] / sum(weights.values())))
        out[name] = kill_command(folder, name, known[name], share, rng)
        print(name, out[name], file=sys.stderr, flush=True)
    return out


if __name__ == "__main__":
    more = sys.argv[3:]
    given_seed = int(more[0]) if more else 7
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]), given_seed, more[1:])))
