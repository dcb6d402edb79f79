"""Foreign bytes handed to a process of its own, and what comes back; what goes wrong there ends one file.

The processes are kept for the next file. Each reads one file at a time; as many work at once as
``bounds.toml`` says, whoever asks next waits. They are started anew from the interpreter, never forked: they
hold nothing of this process, however many threads it has.
"""

import atexit
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

from ingest.apart.child import READY
from ingest.apart.wire import TOO_LARGE, BadMessage, Bytes, Message, receive, send
from ingest.errors import NotPossible, StoreProblem, UnreadableFile
from ingest.figures import bound
from ingest.neutral import quoted, quoted_path, visible

_LONGEST_REFUSAL = 2_000
_TOO_LARGE = "what it unpacks to is too large"
_BROKEN = "its reader broke down on it"
_START = (
    "import json, sys; sys.path[:] = json.loads(sys.argv.pop(1)); "
    "from ingest.apart.child import main; main(sys.argv[1], sys.argv[2])"
)
_ENVIRONMENT = {
    "LC_ALL": "C.UTF-8",
    "ARROW_DEFAULT_MEMORY_POOL": "system",  # the others reserve more addresses than are allowed
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
}
"""All that the other process finds in its environment."""

Kind = tuple[str, str]


class _Reader:
    """One process that reads; `folder` is where it starts, and where one that makes files makes them."""

    def __init__(self, kind: Kind, folder: Path = Path("/")) -> None:
        path = json.dumps([os.path.abspath(entry) for entry in sys.path])
        try:
            self._process = subprocess.Popen(  # noqa: S603  # our own interpreter and module
                [sys.executable, "-I", "-S", "-X", "utf8", "-c", _START, path, *kind],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=_ENVIRONMENT,
                cwd=folder,
                start_new_session=True,  # a Ctrl-C is for the process that asks, which ends this one
            )
        except OSError as error:
            raise NotPossible(
                "Files are read in a process of their own, and this machine starts none "
                f"({(error.strerror or 'it cannot').lower()}). Free some memory and try again."
            ) from None
        self._ready = False

    @property
    def pid(self) -> int:
        """Number of the process."""
        return self._process.pid

    def ask(self, question: Message, most_bytes: int) -> Message:
        """Its answer.

        Raises
        ------
        BadMessage, OSError : it ended, or what it sent is no answer.
        """
        if not self._ready and self._answers.readline() != READY:
            raise NotPossible(
                "Files are read in a process of their own, and that process ends as it begins: the "
                "installation is not whole. Install milesleft again."
            )
        self._ready = True
        send(self._questions, question)
        return receive(self._answers, most_bytes)

    def kill(self) -> None:
        """End it at once; harmless for one that has ended."""
        self._process.kill()

    def ended(self) -> bool:
        """Whether it has ended by itself."""
        return self._process.poll() is not None

    def let_go(self) -> None:
        """Close our ends of the pipes unflushed: they belong to the process that this one was forked from."""
        for stream in (self._questions, self._answers):
            os.close(stream.fileno())
        self._process.returncode = 0

    def close(self) -> int:
        """End it and let the system forget it; what it ended with."""
        self._process.kill()
        code = self._process.wait()
        for stream in (self._questions, self._answers):
            with suppress(OSError):  # what was still to be sent to it cannot be
                stream.close()
        return code

    @property
    def _questions(self) -> IO[bytes]:
        assert self._process.stdin is not None
        return self._process.stdin

    @property
    def _answers(self) -> IO[bytes]:
        assert self._process.stdout is not None
        return self._process.stdout


def _asked(reader: _Reader, question: Message, seconds: float, most_bytes: int) -> Message:
    """The answer of a process, of at most that many bytes; it is ended if there is none.

    Errors as `_Reader.ask`, and TimeoutError, which says why. `seconds` are the processor's: a stopped or
    starved process is waited for as many times as long as ``apart.waits`` says.
    """
    longest = seconds * bound("apart", "waits")
    timer = threading.Timer(longest, reader.kill)
    timer.daemon = True
    began = time.monotonic()  # before the timer: what it ends has lasted that long
    timer.start()
    try:
        return reader.ask(question, most_bytes)
    except BaseException as error:
        code = reader.close()
        if code == -signal.SIGPROF:
            raise TimeoutError(f"it kept its reader busy for more than {seconds} seconds") from error
        if time.monotonic() - began > longest:
            raise TimeoutError(f"its reader had not ended after {longest} seconds") from error
        raise
    finally:
        timer.cancel()


class _Readers:
    """The processes that wait for a file, at most one of a kind; and how many may work at once."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting: dict[Kind, _Reader] = {}
        self._room = threading.BoundedSemaphore(bound("apart", "at_once"))

    def warm(self, kind: Kind) -> None:
        """Have one of a kind waiting."""
        with self._lock:
            if kind not in self._waiting:
                self._waiting[kind] = _Reader(kind)

    def ask(self, kind: Kind, question: Message, seconds: float, most_bytes: int) -> Message:
        """The answer of one of a kind, of at most that many bytes; errors as :func:`_asked`."""
        with self._room:
            reader = self._taken(kind)
            answer = _asked(reader, question, seconds, most_bytes)
            self._back(kind, reader, last=answer.header.get("last") is not False)
            return answer

    def _taken(self, kind: Kind) -> _Reader:
        with self._lock:
            reader = self._waiting.pop(kind, None)
        if reader is not None and reader.ended():  # the system took its memory while it waited
            reader.close()
            reader = None
        return reader or _Reader(kind)

    def _back(self, kind: Kind, reader: _Reader, *, last: bool) -> None:
        with self._lock:
            spare = last or kind in self._waiting
            if not spare:
                self._waiting[kind] = reader
        if spare:
            reader.close()
        if last:
            self.warm(kind)  # while its answer is worked on

    def close(self) -> None:
        """End those that wait."""
        with self._lock:
            for reader in self._waiting.values():
                reader.close()
            self._waiting.clear()

    def let_go(self) -> None:
        """Leave them to the process that this one was forked from, and begin anew."""
        left = list(self._waiting.values())
        _LEFT.extend(left)
        for reader in left:
            reader.let_go()
        self.__init__()  # type: ignore[misc]


_LEFT: list[_Reader] = []
"""Never taken down: that would close numbers of files that are others' by now."""
_readers = _Readers()
atexit.register(_readers.close)
os.register_at_fork(after_in_child=_readers.let_go)


def warm(kind: str, need: str = "") -> None:
    """Start the process for a kind of file before it is needed: it takes a fifth of a second."""
    _readers.warm((kind, need))


def read_apart(
    kind: str,
    content: Bytes,
    *,
    name: str,
    advice: str,
    need: str = "",
    question: Mapping[str, Any] | None = None,
    seconds: int | None = None,
    most_bytes: int | None = None,
) -> Message:
    """What a kind of reader makes of foreign bytes, read in a process of its own.

    Parameters
    ----------
    kind : module with functions ``prepare`` and ``answer``, see :func:`ingest.apart.child.main`; what it
        imports is loaded before the first file, for nothing can be loaded later.
    content : the bytes, at most ``bounds.toml``'s ``apart.largest_question``.
    name : of the file, for messages.
    advice : what to do if it cannot be read, a sentence.
    need : what reading it needs beyond the usual, as the kind's ``prepare`` understands it.
    question : more that the reader must know; what JSON can say.
    seconds : most of the processor's time for it; by the size of the content where it is None.
    most_bytes : largest answer; that of the largest table where it is None.

    Returns
    -------
    Message : checked by nobody: who calls takes it as foreign too.

    Raises
    ------
    UnreadableFile : the reader refused it, broke on it, or needed more time, memory or room than is allowed.
    NotPossible : this machine starts no process.
    """
    seconds = seconds or _seconds_for(content)
    asked = Message({**(question or {}), "name": name, "seconds": seconds}, [content])
    most = most_bytes or bound("apart", "largest_answer")
    return _understood(lambda: _readers.ask((kind, need), asked, seconds, most), quoted(name), advice)


class Builder:
    """A process that makes files in a folder from foreign bytes, once."""

    def __init__(self, reader: _Reader) -> None:
        self._reader = reader

    def ask(self, question: Mapping[str, Any], *, name: str, advice: str, seconds: int) -> Message:
        """What it says of what it made.

        Parameters
        ----------
        question : what its kind asks for; ``reads``, the files beyond its folder that it may read;
            ``most_written``, the largest file that it may make. [bytes]
        name, advice, seconds : as for :func:`read_apart`.

        Returns, Raises
        ---------------
        As :func:`read_apart`; StoreProblem too. What was made is then for nobody.
        """
        asked = Message({**question, "seconds": seconds}, [b""])
        most = bound("apart", "largest_words")
        return _understood(lambda: _asked(self._reader, asked, seconds, most), quoted_path(name), advice)

    def end(self) -> None:
        """End it: it changes nothing of what it made from here on."""
        self._reader.close()


@contextmanager
def builder(kind: str, folder: Path) -> Iterator[Builder]:
    """A process for one question that may make files in `folder`; it has ended when the block ends.

    Parameters
    ----------
    kind : as for :func:`read_apart`, with ``WRITES = True``.
    folder : a scratch folder, for this process alone.
    """
    reader = _Reader((kind, ""), folder)
    try:
        yield Builder(reader)
    finally:
        reader.close()


def _understood(ask: Callable[[], Message], name: str, advice: str) -> Message:
    """The answer; or in words why there is none."""
    try:
        answer = ask()
    except TimeoutError as error:
        raise _not_read(name, str(error), advice) from None
    except (BadMessage, OSError) as error:
        why = _TOO_LARGE if str(error) == TOO_LARGE else _BROKEN
        raise _not_read(name, why, advice) from None
    if "refused" in answer.header:
        problem = StoreProblem if answer.header.get("problem") == StoreProblem.__name__ else UnreadableFile
        raise problem(visible(str(answer.header["refused"])[:_LONGEST_REFUSAL]))
    if "failed" in answer.header:
        whys = {"memory": "it takes more memory than is allowed", "size": _TOO_LARGE}
        raise _not_read(name, whys.get(str(answer.header["failed"]), _BROKEN), advice)
    return answer


def _seconds_for(content: Bytes) -> int:
    """Longest time for content of that size. [s]"""
    return bound("apart", "seconds") + bound("apart", "seconds_a_megabyte") * (len(content) // 1_000_000)


def _not_read(name: str, why: str, advice: str) -> UnreadableFile:
    return UnreadableFile(f"{name} was not read: {why}. Nothing of it was taken. {advice}")
