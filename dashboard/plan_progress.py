"""A bar on standard error while a plan is searched: time gone of the time allowed, gap to the bound."""

import sys
import threading
from types import TracebackType

BAR = 24
"""Width of the bar. [characters]"""


class PlanBar:
    """Called by the search from its threads; draws five times a second, and only where someone can see it."""

    def __init__(self, time_limit: float, *, shown: bool) -> None:
        self._limit = time_limit
        self._shown = shown and sys.stderr.isatty()
        self._state: dict[str, tuple[float, float]] = {}
        self._ended = threading.Event()
        self._drawer = threading.Thread(target=self._draw, daemon=True)

    def __call__(self, vehicle: str, _seconds: float, best: float, bound: float) -> None:
        self._state[vehicle] = (best, bound)

    def __enter__(self) -> "PlanBar":
        if self._shown:
            self._drawer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        if self._shown:
            self._drawer.join()
            sys.stderr.write("\r" + " " * 98 + "\r")
            sys.stderr.flush()

    def line(self, seconds: float) -> str:
        """The bar after so many seconds."""
        filled = min(BAR, round(BAR * seconds / self._limit))
        gaps = [
            f"{vehicle} {100 * (best - bound) / max(abs(best), 1e-9):.1f} %"
            for vehicle, (best, bound) in sorted(self._state.items())
            if abs(best) < 1e15 and abs(bound) < 1e15
        ]
        told = "gap " + ", ".join(gaps) if gaps else "weighing chances"
        return f"planning [{'#' * filled}{'.' * (BAR - filled)}] {seconds:3.0f} s  {told}"[:98]

    def _draw(self) -> None:
        tenths = 0
        while not self._ended.wait(0.2):
            tenths += 2
            sys.stderr.write("\r" + self.line(tenths / 10).ljust(98))
            sys.stderr.flush()
