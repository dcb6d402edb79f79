"""The process that reads foreign bytes: it has nothing, it may break, and it is gone when nobody asks."""

import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import psutil
import pytest

from ingest.apart.host import _Reader, read_apart
from ingest.apart.wire import Message, receive, send
from ingest.errors import UnreadableFile

KIND = "hostile.breaking"


def ask(what, seconds=20):
    return read_apart(KIND, what.encode(), name="a.csv", advice="Save it again.", seconds=seconds).header


def refusal(what, seconds=20):
    with pytest.raises(UnreadableFile) as caught:
        ask(what, seconds)
    return str(caught.value)


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("abort", "its reader broke down on it"),
        ("memory", "more memory than is allowed"),
        ("large", "too large"),
        ("garbage", "its reader broke down on it"),
        ("fault", "its reader broke down on it"),
        ("nothing", "its reader broke down on it"),
    ],
)
def test_what_breaks_there_ends_one_file_in_words(what, words):
    said = refusal(what)
    assert said.startswith("'a.csv' was not read: ")
    assert words in said
    assert said.endswith("Save it again.")
    assert ask("look")["pid"] != os.getpid()  # the next one is read


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("loop", "busy for more than 1 seconds"),
        ("hold", "busy for more than 1 seconds"),
        ("sleep", "had not ended after 10 seconds"),
    ],
)
def test_what_takes_too_long_is_ended(what, words):
    assert words in refusal(what, seconds=1)
    assert ask("look")


def test_waiting_for_a_busy_machine_is_not_taking_long():
    assert ask("wait", seconds=1)["waited"] > 1


def test_a_write_that_comes_late_does_not_end_it():
    reader = _Reader((KIND, ""))
    wait, look = (Message({"name": "a", "seconds": 20}, [what]) for what in (b"wait", b"look"))
    following = threading.Timer(0.7, lambda: send(reader._questions, look))
    first = reader.ask(Message({"name": "a", "seconds": 20}, [b"look"]), 10_000)  # it stands ready
    following.start()
    assert reader.ask(wait, 10_000).header["waited"] > 1
    assert receive(reader._answers, 10_000).header["pid"] == first.header["pid"] == reader.pid
    reader.close()


def test_a_refusal_is_shown_harmless():
    assert refusal("refuse") == "<U+001B>[2J no table"


def test_it_has_no_files_no_network_no_secrets(monkeypatch):
    monkeypatch.setenv("MILESLEFT_DB", "/somewhere/store.duckdb")
    monkeypatch.setenv("CLIENT_SECRET", "x")
    found = ask("look")
    assert {found[way] for way in ("read", "write", "network", "pipe")} <= {"OSError", "PermissionError"}
    assert found["folder"] == "/"
    assert set(found["environment"]) <= {
        *("LC_ALL", "ARROW_DEFAULT_MEMORY_POOL", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"),
        *("LC_CTYPE",),
    }


def test_one_process_reads_many_files_and_a_new_one_after_it_broke():
    first = {ask("look")["pid"] for _ in range(5)}
    assert len(first) == 1
    refusal("abort")
    assert ask("look")["pid"] not in first


def test_many_threads_share_a_few():
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: ask("look")["pid"], range(24)))
    assert len(found) == 24
    kept = [child for child in psutil.Process().children() if KIND in child.cmdline()]
    assert len(kept) <= 2


def test_threads_that_end_take_no_process_with_them():
    pids = []
    for _ in range(2):
        thread = threading.Thread(target=lambda: pids.append(ask("look")["pid"]))
        thread.start()
        thread.join()
    assert pids[0] == pids[1]


ASKS = """
import sys
from ingest.apart.host import _Reader, read_apart
from ingest.apart.wire import Message, receive, send
def ask(what):
    return read_apart("hostile.breaking", what.encode(), name="a", advice="", seconds=100).header
sys.path.append({tests!r})
print(ask("look")["pid"], flush=True)
{then}
"""


def started(then):
    """A process that asked once and does something then; and the number of its reader."""
    tests = os.path.dirname(os.path.dirname(os.path.dirname(__file__)))
    asking = subprocess.Popen(
        [sys.executable, "-c", ASKS.format(tests=tests, then=then)], stdout=subprocess.PIPE, text=True
    )
    return asking, int(asking.stdout.readline())


@pytest.mark.parametrize(
    "what", ["ask('hold')", "ask('loop')", "ask('sleep')", "import time; time.sleep(99)"]
)
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_it_is_not_left_behind_when_who_asks_is_killed(what, how):
    asking, pid = started(what)
    reader = psutil.Process(pid)
    with asking:
        time.sleep(0.3)  # it is in the middle of it
        assert reader.is_running()
        asking.send_signal(how)
    psutil.wait_procs([reader], timeout=10)
    assert not reader.is_running() or reader.status() == psutil.STATUS_ZOMBIE


@pytest.mark.parametrize("method", ["fork", "spawn", "forkserver"])
def test_processes_of_any_start_have_readers_of_their_own(method, tmp_path):
    (tmp_path / "a.csv").write_text("point,date,value\nP1,2001-01-01,1\n")
    script = tmp_path / "script.py"
    script.write_text(
        "import multiprocessing, sys\n"
        "from pathlib import Path\n"
        "from ingest.sheets.readers import read_cells\n"
        "def rows(path):\n"
        "    return len(read_cells(Path(path))[0].cells)\n"
        "if __name__ == '__main__':\n"
        "    before = rows(sys.argv[1])\n"
        f"    with multiprocessing.get_context({method!r}).Pool(2) as pool:\n"
        "        print(before, pool.map(rows, sys.argv[1:] * 4), rows(sys.argv[1]))\n"
    )
    call = [sys.executable, str(script), str(tmp_path / "a.csv")]
    done = subprocess.run(call, capture_output=True, text=True, timeout=60)
    assert done.stdout == "2 [2, 2, 2, 2] 2\n", done.stderr
