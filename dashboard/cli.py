"""The command line. Each command is imported when it is called: starting must cost nothing."""

import gc
import importlib
import sys
import traceback
from contextlib import suppress
from io import TextIOWrapper
from typing import Any, NoReturn

import click

from dashboard.process import keep_memory, leave, settle
from ingest.errors import UserError
from ingest.machine import in_plain_words
from ingest.neutral import visible

COMMANDS = {
    "undo": "Take back everything that a batch did.",
    "held": "Rows held back: list, correct, accept, dismiss.",
    "restore": "A store from a backup.",
    "backup": "The whole store, with its history and forecasts, in one file.",
    "export": "Everything out again, as CSV, XLSX or Parquet.",
    "add": "Load files or folders of readings, mileage, work and other tables.",
    "brief": "The fundraising case as PDF or HTML, and the campaign's progress picture.",
    "demo": "Load the demo railway, forecast, show it.",
    "forecast": "Remaining miles of every wear point.",
    "plan": "Overhaul plan: which lay-up, which work, why, what it costs, what if we wait.",
    "new-vehicle": "Write the sheet of wear points for a wheel arrangement.",
    "correct": "Put many stored rows right alike: of a gauge, an observer, a sheet.",
    "layout": "Propose how a sheet with a layout of its own is read.",
    "score": "How good the forecast has been: every forecaster scored on past readings.",
    "opening": "An engine that lies open: findings, scope, as left, papers.",
    "limits": "Published limits, which one holds, and where it comes from.",
    "checks": "Checks across wear points, limits against the law, condemned parts.",
    "parts": "Parts with numbers of their own, and what is left in the spares.",
    "tires": "Miles and turnings left in the tires, policies compared.",
    "measure-first": "Which readings to take first: what each saves the plan, as a round to walk.",
    "clocks": "Inspections that fall due by service days and by the calendar.",
    "share": "What the families have taught, as a small signed file without readings.",
    "learn-from": "Let forecasts learn from what other railways shared.",
    "serve": "Open the dashboard in the browser.",
}
"""Name and one line of help; module ``dashboard.commands.<name>`` holds ``command``."""
_READS_SHEETS = ("add", "demo")


class LazyGroup(click.Group):
    """A group whose commands are imported on first use, and whose user errors print as one message."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        if cmd_name in _READS_SHEETS:
            from ingest.apart.host import warm

            warm("ingest.sheets.foreign")  # it loads its libraries while this process loads its own
        module = importlib.import_module("dashboard.commands." + cmd_name.replace("-", "_"))
        if not gc.isenabled():
            settle()
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl(sorted(COMMANDS.items()))

    def main(self, *args: Any, **kwargs: Any) -> Any:  # noqa: ANN401 -- click's own signature
        try:
            return super().main(*args, **kwargs)
        except (UserError, OSError, MemoryError) as error:
            problem = error if isinstance(error, UserError) else in_plain_words(error, _output(error))
        with suppress(OSError):
            click.echo(f"milesleft: {visible(str(problem))}", err=True)
        sys.exit(problem.exit_code)


def _output(error: BaseException) -> str:
    """Standard output, where it is what could not be written: such an error names no file."""
    frames = traceback.extract_tb(error.__traceback__)
    return "standard output" if frames and frames[-1].filename == click.utils.__file__ else ""


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="milesleft")
def main() -> None:
    """How many miles are left in every wheel, journal and bearing of a steam locomotive.

    A forecast supports and never replaces inspection by qualified people; the governing rules and the
    railway's own limits decide.
    """


def run() -> NoReturn:
    """The program ``milesleft``: the command asked for, and the end of the process."""
    gc.disable()  # until the libraries are loaded: nothing of them is garbage
    if "serve" not in sys.argv[1:2]:
        keep_memory()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")  # a sign that the terminal does not know stops nothing
    code: object = 0
    try:
        main()
    except SystemExit as end:
        code = end.code
    leave(code if isinstance(code, int) else int(code is not None))


if __name__ == "__main__":
    run()
