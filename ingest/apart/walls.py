"""What the system refuses a process that reads foreign bytes, even one that they have taken over.

Three walls of Linux; each stands where the kernel has it, and none can be taken down again by whoever is
behind it:

- Landlock: files and folders that were not named, TCP, signals to other processes (Linux 5.13; TCP 6.7;
  signals 6.12);
- a filter of system calls: sockets of every kind, other programs, other processes (x86-64 and ARM64);
- no rights of the superuser, where it had any.

The limits of ``ingest.apart.child`` stand on any system. The numbers are those of ``linux/landlock.h``,
``linux/seccomp.h``, ``linux/filter.h``, ``linux/capability.h``, ``linux/prctl.h`` and ``asm/unistd.h``.
"""

import ctypes
import errno
import os
import platform
import struct
import sys
from collections.abc import Iterable
from pathlib import Path

_CREATE, _ADD, _RESTRICT = 444, 445, 446  # landlock_create_ruleset and so on, alike on every machine
_ASK_VERSION = 1
_BENEATH = 1  # LANDLOCK_RULE_PATH_BENEATH
_RIGHTS = {1: 13, 2: 14, 3: 15, 4: 15, 5: 16}
"""Rights over files that a version of Landlock knows; later ones as the last."""
_READ_FILE = 1 << 2
_ALL_OF_A_FOLDER = sum(1 << bit for bit in (1, 2, 3, 4, 5, 7, 8, 14))
"""Write, read, list, remove, make folders and files, cut short; no links, devices or programs."""
_TCP, _SCOPED = 3, 3  # bind and connect; abstract sockets and signals

OF_THE_MACHINE = tuple(map(Path, ("/proc/self/cgroup", "/sys/fs/cgroup", "/sys/devices/system/cpu")))
"""Tells a library how many processors and how much memory it may use; without it DuckDB opens nothing."""

_NO_NEW_PRIVS, _SECCOMP, _FILTER = 38, 22, 2
_CAPABILITIES = 0x20080522  # _LINUX_CAPABILITY_VERSION_3
_PASSES_BY_PERMISSIONS = 1 << 1 | 1 << 2  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH

_MACHINES = {"x86_64": (0xC000003E, 0), "aarch64": (0xC00000B7, 1)}
"""Mark of the machine in the filter, and which column of the numbers holds for it."""
_REFUSED = {
    "socket": (41, 198),
    "execve": (59, 221),
    "execveat": (322, 281),
    "ptrace": (101, 117),
    "process_vm_readv": (310, 270),
    "process_vm_writev": (311, 271),
    "kill": (62, 129),
    "tkill": (200, 130),
    "tgkill": (234, 131),
    "rt_sigqueueinfo": (129, 138),
    "rt_tgsigqueueinfo": (297, 240),
    "unshare": (272, 97),
    "setns": (308, 268),
    "mount": (165, 40),
    "open_by_handle_at": (304, 265),
    "bpf": (321, 280),
    "perf_event_open": (298, 241),
    "userfaultfd": (323, 282),
    "add_key": (248, 217),
    "request_key": (249, 218),
    "keyctl": (250, 219),
    "pidfd_send_signal": (424, 424),
    "io_uring_setup": (425, 425),
    "open_tree": (428, 428),
    "move_mount": (429, 429),
    "fsopen": (430, 430),
    "pidfd_open": (434, 434),
    "pidfd_getfd": (438, 438),
    "process_madvise": (440, 440),
}
"""System calls by their numbers on x86-64 and ARM64."""
_LIMITS_OF_A_PROCESS = (302, 261)  # prlimit64: its own only, which is process 0
_NEW_PROCESSES = (57, 58), ()  # fork and vfork, which ARM64 has not
_CLONE, _CLONE_NEWER = (56, 220), (435, 435)
_A_THREAD = 0x10000  # CLONE_THREAD of linux/sched.h: clone makes threads, and nothing else here
_OTHER_KIND_OF_CALL = 0x40000000  # x32 on x86-64: the same calls under other numbers
_LOAD, _EQUAL, _AT_LEAST, _HAS, _RETURN = 0x20, 0x15, 0x35, 0x45, 0x06
_CALL_AT, _MACHINE_AT, _FIRST_ARGUMENT_AT = 0, 4, 16  # places in struct seccomp_data
_SIZE_OF_A_STEP = 8  # bytes
_ALLOW, _REFUSE, _UNKNOWN = 0x7FFF0000, 0x00050000 | errno.EPERM, 0x00050000 | errno.ENOSYS


def landlock_version() -> int:
    """The version of Landlock that this kernel has; 0 where it has none."""
    return max(0, _call(_CREATE, None, 0, _ASK_VERSION)) if sys.platform == "linux" else 0


def filters_calls() -> bool:
    """Whether a filter of system calls can be had here."""
    return sys.platform == "linux" and platform.machine() in _MACHINES


def leave_rights() -> None:
    """No rights of the superuser, no sockets, no new programs or processes, for this process from now on.

    To be called while it has one thread: those that it starts have no more than it has. Where it may open
    files whatever their permissions say it keeps that: its programs and what it was given may be another
    user's.
    """
    if sys.platform != "linux":
        return
    library = ctypes.CDLL(None)
    head = struct.pack("<Ii", _CAPABILITIES, 0)
    had = ctypes.create_string_buffer(24)
    if library.capget(head, had) == 0:
        effective, permitted = (each & _PASSES_BY_PERMISSIONS for each in struct.unpack_from("<II", had))
        library.capset(head, struct.pack("<6I", effective, permitted, 0, 0, 0, 0))
    library.prctl(_NO_NEW_PRIVS, *map(ctypes.c_ulong, (1, 0, 0, 0)))
    if filters_calls():
        program = ctypes.create_string_buffer(_filter(*_MACHINES[platform.machine()]))
        told = struct.pack("@HP", len(program) // _SIZE_OF_A_STEP, ctypes.addressof(program))
        library.prctl(_SECCOMP, ctypes.c_ulong(_FILTER), told)


def shut(*, reads: Iterable[Path] = (), writes: Iterable[Path] = ()) -> None:
    """Open nothing but these files and what lies below these folders, and no TCP, from now on.

    It holds for the thread that calls it and for those that are started after. To be called while a file can
    still be opened, after :func:`leave_rights`. Where the kernel has no Landlock nothing happens.

    Parameters
    ----------
    reads : files that may be read, and folders whose files may be; one that is not there is left out.
    writes : folders in which files and folders may be made, read and removed.
    """
    version = landlock_version()
    if not version:
        return
    known = (1 << _RIGHTS.get(version, max(_RIGHTS.values()))) - 1
    handled = struct.pack("<QQQ", known, _TCP, _SCOPED)[: 8 if version < 4 else 16 if version < 6 else 24]
    rules = _call(_CREATE, handled, len(handled), 0)
    if rules < 0:
        return
    allowed = [(path, _READ_FILE) for path in reads] + [(path, _ALL_OF_A_FOLDER & known) for path in writes]
    try:
        for path, rights in allowed:
            _allow(rules, path, rights)
        _call(_RESTRICT, rules, 0)
    finally:
        os.close(rules)


def _allow(rules: int, path: Path, rights: int) -> None:
    try:
        handle = os.open(path, os.O_PATH | os.O_CLOEXEC)
    except OSError:
        return
    try:
        _call(_ADD, rules, _BENEATH, struct.pack("<Qi", rights, handle), 0)
    finally:
        os.close(handle)


def _call(number: int, *arguments: bytes | int | None) -> int:
    """A system call that the C library has no name for; -1 where the kernel refuses it."""
    return int(ctypes.CDLL(None).syscall(ctypes.c_long(number), *map(_as_c, arguments)))


def _as_c(argument: bytes | int | None) -> object:
    return ctypes.c_long(argument) if isinstance(argument, int) else argument


def _filter(machine: int, column: int) -> bytes:
    """The filter: what is refused answers "not permitted", everything else goes on.

    A new process is refused, a thread is not. The newer call for both hides what it is asked for behind a
    pointer, where no filter sees it: the answer is that this kernel has none, and libraries ask the older.
    """
    refused = [*(numbers[column] for numbers in _REFUSED.values()), *_NEW_PROCESSES[column]]
    steps: list[tuple[int, int | str, int | str, int]] = [
        (_LOAD, 0, 0, _MACHINE_AT),
        (_EQUAL, 0, "refuse", machine),
        (_LOAD, 0, 0, _CALL_AT),
        (_AT_LEAST, "refuse", 0, _OTHER_KIND_OF_CALL),
        (_EQUAL, "unknown", 0, _CLONE_NEWER[column]),
        (_EQUAL, 0, 2, _LIMITS_OF_A_PROCESS[column]),
        (_LOAD, 0, 0, _FIRST_ARGUMENT_AT),
        (_EQUAL, "allow", "refuse", 0),
        (_EQUAL, 0, 2, _CLONE[column]),
        (_LOAD, 0, 0, _FIRST_ARGUMENT_AT),
        (_HAS, "allow", "refuse", _A_THREAD),
        *((_EQUAL, "refuse", 0, number) for number in refused),
    ]
    ends = {"allow": _ALLOW, "refuse": _REFUSE, "unknown": _UNKNOWN}
    places = {name: len(steps) + at for at, name in enumerate(ends)}

    def ahead(to: int | str, place: int) -> int:
        return to if isinstance(to, int) else places[to] - place - 1

    program = [
        (code, ahead(yes, at), ahead(no, at), number) for at, (code, yes, no, number) in enumerate(steps)
    ]
    program += [(_RETURN, 0, 0, answer) for answer in ends.values()]
    return b"".join(struct.pack("<HBBI", *step) for step in program)
