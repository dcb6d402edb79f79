"""Errors that a user may see. Anything else is a bug and keeps its traceback."""

from ingest.neutral import quoted_path


class UserError(Exception):
    """Shown to the user without a traceback.

    Wording: where; what was found; what was expected; what to do. ``exit_code`` is what the
    command line ends with: 1, the data hold something that stops this.
    """

    exit_code = 1


class UnreadableFile(UserError):
    """The file is not a table that can be read: empty, damaged, too large, not what its name says."""


class UnknownTable(UserError):
    """The headings match none of the tables, or more than one."""


class StoreBusy(UserError):
    """Another process holds the store and did not let go within the time allowed."""


class StoreProblem(UserError):
    """The store is missing, of a newer version, or not one of ours."""


class NotPossible(UserError):
    """The request is clear, but the data cannot answer it; the message says what is missing."""


class SystemProblem(UserError):
    """The machine does not do it: full disk, folder that may not be written, missing folder, no memory.

    Attributes
    ----------
    means : the problem without the name of any file: for pages and logs that strangers see.
    """

    def __init__(self, place: object, means: str, then: str = "", advice: str = "") -> None:
        where = f"{quoted_path(place)}: " if str(place) else ""
        super().__init__(" ".join(part for part in (f"{where}{means}.", then, advice) if part))
        self.means, self._advice = means, advice

    def at(self, place: object, then: str = "") -> "SystemProblem":
        """The same problem with another file or folder named, and what follows from it there."""
        return SystemProblem(place, self.means, then, self._advice)


class WrongUsage(UserError):
    """The command was called with something that makes no sense."""

    exit_code = 2
