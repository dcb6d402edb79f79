"""Files handed in: how much of them the server holds, and whether one more may come in."""

from collections.abc import Iterator
from contextlib import contextmanager

from streamlit.runtime.uploaded_file_manager import UploadedFileRec

from dashboard.gate.bounds import MB, Bounds

Held = dict[str, dict[str, UploadedFileRec]]
"""What Streamlit keeps of uploads: by session and by file."""


class TooMuch(Exception):
    """A bound would be passed; the text says which."""


class Uploads:
    """Files on their way in, counted from the moment that their length is told until Streamlit holds them."""

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        self._coming: dict[tuple[str, str], int] = {}

    @contextmanager
    def room_for(self, session: str, file: str, size: int, held: Held) -> Iterator[None]:
        """Hold room for a file while it comes in.

        Raises
        ------
        TooMuch : the file, those of its session or those of the whole server would be more than may be.
        """
        bounds = self._bounds
        # Pages take files out from their own threads: what is counted is a copy.
        stored = {name: list(files.values()) for name, files in list(held.items())}
        by_session = {name: [len(each.data) for each in files] for name, files in stored.items()}
        of_session = by_session.get(session, [])
        coming = [length for (name, _), length in self._coming.items() if name == session]
        if size > bounds.file_mb * MB:
            raise TooMuch(f"A file may have {bounds.file_mb} MB at most.")
        if (session, file) in self._coming or len(of_session) + len(coming) >= bounds.session_files:
            raise TooMuch(f"One page takes in {bounds.session_files} files at most. Add these first.")
        if sum(of_session) + sum(coming) + size > bounds.session_mb * MB:
            raise TooMuch(
                f"One page takes in {bounds.session_mb} MB at most. Add the files chosen so far first."
            )
        everywhere = sum(map(sum, by_session.values())) + sum(self._coming.values())
        if everywhere + size > bounds.server_mb * MB:
            raise TooMuch("Others are handing in files at this moment. Try again in a few minutes.")
        self._coming[session, file] = size
        try:
            yield
        finally:
            del self._coming[session, file]
