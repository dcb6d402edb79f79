"""Runs commands and pages while the disk below them is full or may not be written, and tells how each ended.

A program of its own, and a process of it for each fault, which finds all that is needed loaded: what that
mounts is seen by nobody else and gone when it ends. Where mounting is
not allowed, the same is had by other means: a bound on the size of a file (an error of the same kind), or a
folder that may not be written and a user who is not root.
"""

import contextlib
import ctypes
import io
import json
import os
import resource
import shutil
import sys
import traceback
from pathlib import Path

ROOM = 1024 * 1024  # bytes of the small disk beyond what the folder holds
LEFT = 0  # bytes that stay free on it; a lock file takes none
NOBODY = 65534
CLONE_NEWNS = 0x00020000  # sched.h
MS_RDONLY, MS_REMOUNT, MS_PRIVATE, MS_REC = 1, 32, 1 << 18, 1 << 14  # sys/mount.h
APP = Path(__file__).parents[2] / "dashboard" / "app.py"


def main():
    """Reads {fault: [folder, {name: words}]}, writes {fault: {name: how it ended}}."""
    asked = json.load(sys.stdin)
    _import_all()
    _few_days_of_the_past()
    told = {fault: _apart(fault, Path(folder), words) for fault, (folder, words) in asked.items()}
    json.dump({fault: json.load(pipe) for fault, pipe in told.items()}, sys.stdout)
    for _ in told:
        os.wait()


def _apart(fault, folder, asked):
    """What a child of this process tells: how each of what is asked for ended under the fault."""
    told, tell = os.pipe()
    if os.fork():
        os.close(tell)
        return os.fdopen(told)
    os.close(told)
    try:
        _bring_about(fault, folder)
        os.environ["TMPDIR"] = str(folder)
        os.environ["MILESLEFT_DB"] = str(folder / "s.duckdb")
        os.chdir(folder)
        with os.fdopen(tell, "w") as all_of_it:
            json.dump({name: _ended(folder, args) for name, args in asked.items()}, all_of_it)
    except BaseException:
        traceback.print_exc()
        os._exit(1)
    os._exit(0)


def _few_days_of_the_past():
    """What the page of the record cannot write after five days of the past it cannot after one."""
    from dashboard.services import scoring

    whole = scoring.run_score
    scoring.run_score = lambda store, *_, **__: whole(store, 1, slow=False)


def _import_all():
    """What is imported later could not be found by a user who is not root."""
    import streamlit.testing.v1
    import typst
    from streamlit.components.v2 import manifest_scanner

    import dashboard.cli

    assert typst
    assert streamlit.testing.v1
    context = dashboard.cli.click.Context(dashboard.cli.main)
    for name in dashboard.cli.COMMANDS:
        dashboard.cli.main.get_command(context, name)
    found = manifest_scanner.scan_component_manifests()  # reads all that is installed, anew for each page
    manifest_scanner.scan_component_manifests = lambda *args, **more: found


def _ended(folder, args):
    before = _files(folder)
    out, err, found = io.StringIO(), io.StringIO(), {"code": None, "trace": "", "shown": []}
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            found |= (
                _page(args[1], *args[2:3], **(args[3] if args[3:] else {}))
                if args[0] == "page"
                else _command(args)
            )
        except BaseException:
            found["trace"] = traceback.format_exc()
    # An empty log of changes is what a store has between two of them.
    left = [name for name, size in _files(folder).items() if size and before.get(name) != size]
    return found | {"out": out.getvalue(), "err": err.getvalue(), "left": left}


def _command(args):
    from dashboard.cli import main as command_line

    try:
        command_line(args)
    except SystemExit as end:
        return {"code": end.code}


def _page(view, button="", **filled):
    """A page opened, fields filled in by their labels, and a button pressed on it."""
    from streamlit.testing.v1 import AppTest

    app = AppTest.from_file(str(APP), default_timeout=60).run()
    if view != "first":
        app.switch_page(f"views/{view}.py").run()
    for label, value in filled.items():
        if label == "Files":
            app.file_uploader(key="batch-files").upload("new.csv", value.encode()).run()
        elif label == "Value":  # a field of a form, which is sent by the button
            _labelled(app.text_input, label).set_value(value)
        else:
            _labelled(app.selectbox, label).set_value(value).run()
    if button:
        _labelled(app.button, button).click().run()
    return {
        "trace": "\n".join(each.value for each in app.exception),
        "shown": [each.value for each in app.error],
        "titles": [each.value for each in app.title],
    }


def _labelled(widgets, label):
    return next(each for each in widgets if each.label == label)


def _files(folder):
    """Size of each file, but of the lock files."""
    return {
        str(path.relative_to(folder)): path.stat().st_size
        for path in folder.rglob("*")
        if path.is_file() and path.suffix not in (".lock", ".gate")
    }


def _bring_about(fault, folder):
    c = ctypes.CDLL(None, use_errno=True)
    mine = c.unshare(CLONE_NEWNS) == 0 and c.mount(None, b"/", None, MS_REC | MS_PRIVATE, None) == 0
    mounted = mine and _on_a_small_disk(c, folder)
    if fault == "read-only":
        here = os.fsencode(folder)
        if not (mounted and c.mount(b"tmpfs", here, b"tmpfs", MS_RDONLY | MS_REMOUNT, None) == 0):
            folder.chmod(0o555)
            if os.geteuid() == 0:
                os.setuid(NOBODY)
    elif mounted:
        disk = os.statvfs(folder)
        with (folder / "filler").open("wb") as filler:
            filler.write(bytes(disk.f_bavail * disk.f_frsize - LEFT))
    else:
        resource.setrlimit(resource.RLIMIT_FSIZE, (LEFT, LEFT))


def _on_a_small_disk(c, folder):
    """Put a small disk in the place of the folder, with what the folder held."""
    aside = folder.with_name(folder.name + "-aside")
    shutil.copytree(folder, aside)
    size = sum(path.stat().st_size for path in aside.rglob("*")) + ROOM
    if c.mount(b"tmpfs", os.fsencode(folder), b"tmpfs", 0, f"size={size}".encode()) != 0:
        return False
    shutil.copytree(aside, folder, dirs_exist_ok=True)
    return True


if __name__ == "__main__":
    main()
