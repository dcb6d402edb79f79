"""A bar on standard error while a plan is searched: work done, gap to the bound."""

import sys
import threading
from types import TracebackType

BAR = 24
"""Width of the bar. [characters]"""


class PlanBar:
    """Called by the search from its threads; draws five times a second, and only where someone can see it."""

    def __init__(self, *, shown: bool) -> None:
        self._shown = shown and sys.stderr.isatty()
        self._state: dict[str, tuple[int, float, float]] = {}
        self._ended = threading.Event()
        self._drawer = threading.Thread(target=self._draw, daemon=True)

    def __call__(self, vehicle: str, nodes: int, best: float, bound: float) -> None:
        self._state[vehicle] = (nodes, best, bound)

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

    def line(self, step: int) -> str:
        """The bar at its n-th drawing: a mark that wanders while work is done, then the work and the gaps."""
        bar = "".join("#" if place == step % BAR else "." for place in range(BAR))
        state = sorted(self._state.items())
        nodes = sum(done for _, (done, _, _) in state)
        gaps = [
            f"{vehicle} {100 * (best - bound) / max(abs(best), 1e-9):.1f} %"
            for vehicle, (_, best, bound) in state
            if abs(best) < 1e15 and abs(bound) < 1e15
        ]
        state_words = f"{nodes} nodes, gap " + ", ".join(gaps) if gaps else "weighing chances"
        return f"planning [{bar}] {state_words}"[:98]

    def _draw(self) -> None:
        step = 0
        while not self._ended.wait(0.2):
            step += 1
            sys.stderr.write("\r" + self.line(step).ljust(98))
            sys.stderr.flush()
