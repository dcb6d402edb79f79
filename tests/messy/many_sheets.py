"""Make many messy sheets and hold what is stored against the truth; prints the counts and each false row.

Run: python tests/messy/many_sheets.py COUNT [SEED] [SECONDS] [plain]. Sheet n of a seed is always the same
one, so that a run that SECONDS ended goes on elsewhere, and a fault is found again: ``one(SEED, n, folder)``.
A third of the sheets are as the listed makers write them; in the others another notation, form of dates and
language is drawn. Of the sheets that need a layout every other one comes without: how it is arranged is then
asked, and answered by the truth. Every thousand sheets, and in the end, it is said why true readings stayed
out, by arrangement and fault. With *plain*, texts are Python's own instead of Arrow's: small sheets are
judged in two thirds of the time, with the same outcome (the mark printed last is of all outcomes).
Ends with 1 where anything false was stored.
"""

import hashlib
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))
if __name__ == "__main__" and sys.argv[4:5] == ["plain"]:
    pd.set_option("mode.string_storage", "python")  # before anything is imported that keeps the kind of texts

from messy.held_to_truth import Outcome, outcome_by_question, outcome_of
from messy.logs import log_makers, log_outcome
from messy.makers import LANGUAGES, NEEDS_NOTES, PLAIN, Maker, make, makers, possible
from messy.more_arrangements import MORE
from messy.notations import DATE_FORMS, MONTHS, NOTATIONS

_LOGS = 1 / 20  # of all that is handed over
_AS_LISTED = 1 / 3


def one(seed: int, number: int, folder: Path) -> tuple[str, Outcome]:
    """Name of sheet `number` of a seed, and what became of it."""
    rng = np.random.default_rng([seed, number])
    if rng.random() < _LOGS:
        logs = log_makers()
        log = logs[int(rng.integers(len(logs)))]
        return f"log: {log.name}", log_outcome(log, number, folder)
    listed = makers()
    maker = listed[int(rng.integers(len(listed)))]
    if rng.random() > _AS_LISTED:
        maker = _varied(maker, rng)
    handed = make(maker, number, folder)
    if rng.random() < 0.5 and len(handed.calls) == 1 and handed.calls[0][1] is not None:
        return f"asked: {maker.name}", outcome_by_question(handed)
    return maker.name, outcome_of(handed)


def _varied(maker: Maker, rng: np.random.Generator) -> Maker:
    """The maker in another notation, form of dates and language, where its arrangement and fault allow it."""
    if maker.fault in PLAIN or maker.arrangement in MORE or maker.unit_said == "none":
        return maker
    forms = [*DATE_FORMS, "real", *MONTHS]
    maker = replace(
        maker,
        notation=str(rng.choice(list(NOTATIONS))),
        date_form=maker.date_form if maker.fault == "day_is_late" else str(rng.choice(forms)),
        layout_says=maker.layout_says and not maker.proposed,
    )
    if maker.arrangement != "long with hand" and maker.fault not in NEEDS_NOTES:
        maker = replace(maker, language=str(rng.choice(LANGUAGES)))
    return possible(maker)


def main(count: int, seed: int = 1, seconds: float = float("inf")) -> int:
    """Make the sheets and print what became of them; 1 where anything false was stored."""
    end = time.monotonic() + seconds
    made, n_wrong, kinds, sums = 0, 0, Counter[str](), Counter[str]()
    out, mark = Counter[tuple[str, str]](), hashlib.sha256()
    with TemporaryDirectory() as scratch:
        for number in range(count):
            if time.monotonic() > end:
                break
            name, outcome = one(seed, number, Path(scratch) / "sheet")
            made += 1
            kinds[name.partition(":")[0] if ": " in name[:7] else "as it is"] += 1
            sums.update(stored=outcome.n_stored, true=outcome.n_true, in_=outcome.n_in)
            out.update({(_kind(name), why): n for why, n in outcome.out.items()})
            mark.update(repr((name, vars(outcome))).encode())
            if outcome.wrong:
                n_wrong += 1
                print(f"{seed} {number} {name}: {outcome.wrong}", flush=True)
            if made % 1000 == 0 and made < count:
                _tell(made, kinds, sums, n_wrong, out)
    _tell(made, kinds, sums, n_wrong, out)
    print(f"{time.process_time() / max(made, 1):.2f} s of processor a sheet; mark {mark.hexdigest()[:20]}")
    return int(n_wrong > 0)


def _kind(name: str) -> str:
    """Arrangement and fault of a maker by its name; of a log, all."""
    parts = name.split(", ")
    return name if name.startswith("log: ") else f"{parts[0]}, {parts[4]}"


def _tell(
    made: int, kinds: Counter[str], sums: Counter[str], wrong: int, out: Counter[tuple[str, str]]
) -> None:
    print(
        f"{made} sheets ({dict(kinds)}), {sums['stored']:,} readings stored, {sums['in_']:,} of "
        f"{sums['true']:,} true ones in; sheets with anything false: {wrong}"
    )
    reasons = Counter[str]()
    for (_, why), n in out.items():
        reasons[why] += n
    for why, n in reasons.most_common():
        where = Counter({kind: n for (kind, reason), n in out.items() if reason == why})
        print(f"  out {n}: {why} [{', '.join(f'{kind}: {n}' for kind, n in where.most_common(6))}]")
    sys.stdout.flush()


if __name__ == "__main__":
    words = sys.argv[1:]
    sys.exit(main(int(words[0]), *map(int, words[1:2]), *map(float, words[2:3])))
