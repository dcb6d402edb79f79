"""The sessions behind the websockets: whose they are, what was made for them, and their end."""

import asyncio

from streamlit.runtime import Runtime, get_instance
from streamlit.runtime.memory_uploaded_file_manager import MemoryUploadedFileManager
from streamlit.runtime.uploaded_file_manager import UploadedFileRec


class Sessions:
    """Which sign-in opened which session, and the files that readers of a link for donors were told of."""

    def __init__(self, kept_s: float) -> None:
        self._kept_s = kept_s
        self._sign_in: dict[str, str] = {}
        self._told: dict[str, set[str]] = {}
        self._ends: set[asyncio.Task[None]] = set()

    def opened(self, session: str, sign_in: str) -> None:
        """A session has begun, or its browser has come back."""
        self._sign_in[session] = sign_in

    def is_of(self, session: str, sign_in: str) -> bool:
        """Whether a session is open and this sign-in opened it."""
        return self._sign_in.get(session) == sign_in and runtime().is_active_session(session)

    def of_sign_in(self, sign_in: str) -> list[str]:
        """The sessions that a sign-in opened."""
        return [session for session, opener in self._sign_in.items() if opener == sign_in]

    def told(self, session: str, file: str) -> None:
        """A session without a role was told the address of a file."""
        self._told.setdefault(session, set()).add(file)

    def was_told(self, file: str) -> bool:
        """Whether a session without a role that still lives was told of a file."""
        return any(file in files for files in self._told.values())

    def end(self, session: str) -> None:
        """End a session now: its state, its uploads and the files made for it are given back."""
        self._sign_in.pop(session, None)
        self._told.pop(session, None)
        running = runtime()
        running.close_session(session)
        # Streamlit forgets a session after a while, or when there are many, without giving back what it held.
        running.uploaded_file_mgr.remove_session_files(session)
        running.media_file_mgr.clear_session_refs(session)

    def left(self, session: str) -> None:
        """A browser has gone: its session ends unless it comes back in time."""
        task = asyncio.create_task(self._end_later(session))
        self._ends.add(task)
        task.add_done_callback(self._ends.discard)

    async def _end_later(self, session: str) -> None:
        await asyncio.sleep(self._kept_s)
        if not runtime().is_active_session(session):
            self.end(session)


def runtime() -> Runtime:
    """Streamlit's one runtime."""
    return get_instance()


def stored_uploads() -> dict[str, dict[str, UploadedFileRec]]:
    """What Streamlit holds of files handed in, by session and by file."""
    held = runtime().uploaded_file_mgr
    assert isinstance(held, MemoryUploadedFileManager)  # the one kind that it has
    return held.file_storage
