"""The process that reads foreign bytes: it answers one question after the other and can do nothing else.

Before the first question it gives up what it does not need. It can open no file and no connection any more
(what it reads is sent to it), write none, and take no more memory than is allowed; nothing was given to it
but the bytes. A kind that says ``WRITES = True`` makes files in the folder that it starts in: it may open a
few there and the files that the question names, and write each no larger than the question says. Limits hold
it to that, and the walls of :mod:`ingest.apart.walls`, which stand even where the bytes have taken it over.
It ends by itself when the process that asks is gone, at any time: the system sees to it, even while a library
loops.
"""

import fcntl
import importlib
import importlib.abc
import os
import resource
import select
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from ingest.apart import walls
from ingest.apart.wire import BadMessage, Bytes, Message, receive, send
from ingest.errors import UserError
from ingest.figures import bound

READY = b"ready\n"
_MEMORY = "/proc/self/statm"


def main(kind: str, need: str) -> None:
    """Serve until nobody asks any more.

    Parameters
    ----------
    kind : module with two functions: ``prepare(need)``, called while files can still be opened, and
        ``answer(question, content)``, which returns a :class:`Message`; and with ``WRITES`` if it makes
        files.
    need : what its files need beyond the usual, as ``prepare`` understands it.
    """
    questions, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints is no answer
    _spare_others()
    walls.leave_rights()
    sys.meta_path.insert(0, _Without())
    module = importlib.import_module(kind)
    module.prepare(need)
    most_bytes = bound("apart", "largest_question")
    memory = os.open(_MEMORY, os.O_RDONLY) if os.path.exists(_MEMORY) else None
    writes = bool(getattr(module, "WRITES", False))
    _give_up(bound("restore", "open_files") if writes else 0)
    os.write(answers.fileno(), READY)
    for left in reversed(range(bound("apart", "files_of_one"))):
        try:
            question = receive(questions, most_bytes)
        except BadMessage:
            return  # nobody asks any more
        if writes:
            given = map(Path, question.header["reads"])
            walls.shut(reads=[*given, *walls.OF_THE_MACHINE], writes=[Path()])
        _limit(resource.RLIMIT_FSIZE, int(question.header.get("most_written", 0)))
        _work_for_at_most(int(question.header["seconds"]), questions.fileno(), answers.fileno())
        reply = _answered(module.answer, question)
        _rest(answers.fileno())
        last = not left or _in_use(memory) > bound("apart", "kept_up_to")
        send(answers, Message({**reply.header, "last": last}, reply.pieces))
        if last:
            return


class _Without(importlib.abc.MetaPathFinder):
    """Nothing is loaded by name that pyarrow would load where it finds it: pandas takes half a second."""

    def find_spec(self, name: str, *_: object) -> None:
        """None for what others shall look for; ModuleNotFoundError for pandas."""
        if name == "pandas":
            raise ModuleNotFoundError(name)


def _answered(answer: Callable[[dict[str, Any], Bytes], object], question: Message) -> Message:
    try:
        made = answer(question.header, question.pieces[0])
    except UserError as error:
        return Message({"refused": str(error), "problem": type(error).__name__})
    except MemoryError:
        return Message({"failed": "memory"})
    except Exception as error:  # a fault of ours or of a library: of this file alone
        return Message({"failed": type(error).__name__})
    return made if isinstance(made, Message) else Message({"failed": "no answer"})


def _in_use(memory: int | None) -> int:
    """Memory that this process holds, 0 where the system does not say. [bytes]"""
    return 0 if memory is None else int(os.pread(memory, 100, 0).split()[1]) * resource.getpagesize()


def _spare_others() -> None:
    """Where memory runs short, the system ends this process and not the server."""
    with suppress(OSError), open("/proc/self/oom_score_adj", "w") as file:
        file.write("1000")


def _give_up(open_files: int) -> None:
    """Keep nothing but the two pipes, the memory that reading takes, and that many open files."""
    if not open_files:
        walls.shut()
        _limit(resource.RLIMIT_FSIZE, 0)
    _limit(resource.RLIMIT_CORE, 0)
    _limit(resource.RLIMIT_AS, bound("apart", "most_memory"))
    _limit(resource.RLIMIT_NOFILE, open_files)


def _limit(what: int, most: int) -> None:
    most = min([most, *(known for known in resource.getrlimit(what) if known != resource.RLIM_INFINITY)])
    with suppress(ValueError, OSError):  # a system without this limit
        resource.setrlimit(what, (most, most))


def _work_for_at_most(seconds: int, questions: int, answers: int) -> None:
    """The system ends this process after that much of the processor's time, or as soon as nobody holds the
    other end. A clock would let a busy machine refuse what an idle one reads.

    The signal comes from the pipe of answers: nobody reads from it before there is one. The pipe of questions
    gives it for each write too, and on a busy machine that of the question itself can come after it was read.
    """
    signal.signal(signal.SIGPROF, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    if hasattr(os, "O_ASYNC"):
        signal.signal(signal.SIGIO, signal.SIG_DFL)
        fcntl.fcntl(answers, fcntl.F_SETOWN, os.getpid())
        fcntl.fcntl(answers, fcntl.F_SETFL, fcntl.fcntl(answers, fcntl.F_GETFL) | os.O_ASYNC)
    if select.select([questions], [], [], 0)[0]:  # its end came before the system was asked: nothing else can
        os._exit(0)


def _rest(answers: int) -> None:
    signal.setitimer(signal.ITIMER_PROF, 0)
    if hasattr(os, "O_ASYNC"):
        fcntl.fcntl(answers, fcntl.F_SETFL, fcntl.fcntl(answers, fcntl.F_GETFL) & ~os.O_ASYNC)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
