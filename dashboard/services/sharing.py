"""What families have taught, as a small signed file: written here, checked and kept there.

The signature (Ed25519, RFC 8032) shows that a file is as its maker wrote it; the fingerprint of the maker's
key, which people compare by telephone or face to face, shows who that is. The key that signs stays beside
the store.
"""

import base64
import json
import os
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from dashboard.services.sources import last_of
from ingest.apart.host import read_apart
from ingest.apart.signed import FORMAT, fingerprint, signed_bytes, signer_of
from ingest.errors import NotPossible, UnreadableFile
from ingest.figures import bound
from ingest.neutral import harmless, neutral, quoted, quoted_path
from ingest.store import Store
from ingest.writing import whole_file, write_whole
from models.wear.shapes import SHAPES
from models.wear.shared_prior import PARAMETERS

KIND = "ingest.apart.signed"
MOST_OF_A_NAME = 100
MOST_BYTES = 20_000_000
"""A file larger than this is not read: a thousand families take about half a megabyte."""
PARTS = ("component", "quantity", "base_unit")
COUNTS = ("lives", "readings")
_NOT_HELD = "its signature does not hold"
_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL


@dataclass(frozen=True)
class Shared:
    """A file that was read and whose signature holds.

    Attributes
    ----------
    railway : what its maker calls itself.
    made_on : day, as text.
    fingerprint : of the key that signed it.
    families : as ``models.wear.shared_prior.summary_frame`` lays them out.
    """

    railway: str
    made_on: str
    fingerprint: str
    families: pd.DataFrame


def share(store: Store, path: Path, railway: str, key_file: Path | None = None) -> Shared:
    """Write what the last forecast learned of every family.

    Parameters
    ----------
    railway : name by which others will know it.
    key_file : private key (PEM); one beside the store, made if there is none, if not given.

    Raises
    ------
    NotPossible : there is no forecast, or no family has lives enough; the key cannot be read.
    """
    runs = store.runs("forecast")
    if runs.empty:
        raise NotPossible(f"'{store.path}' holds no forecast, and that is where families are learned. "
                          "Make one first: 'milesleft forecast'.")  # fmt: skip
    families = store.read_run(str(runs["run_id"].iloc[0]), "summary")
    if families.empty:
        raise NotPossible(
            f"No family in '{store.path}' has two lives with a reading, and one life is not shared: its "
            "numbers would be that part's own."
        )
    key = own_key(key_file or default_key(store))
    body = {
        "format": FORMAT,
        "railway": harmless(railway),
        "made_on": datetime.now(UTC).date().isoformat(),
        "parameters": list(PARAMETERS),
        "shapes": [shape.name for shape in SHAPES],
        "families": [_row(row) for row in families.to_dict("records")],
        "public_key": base64.b64encode(_raw(key.public_key())).decode(),
    }
    signature = base64.b64encode(key.sign(signed_bytes(body))).decode()
    write_whole(path, json.dumps({**body, "signature": signature}, indent=1).encode())
    return read_shared(path)


def read_shared(path: Path) -> Shared:
    """Read a file and check its signature.

    Raises
    ------
    UnreadableFile : it is no such file, or it was changed after it was signed.
    """
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise UnreadableFile(
            f"{quoted_path(path)} cannot be read: {(error.strerror or 'it is no file').lower()}."
        ) from None
    if len(content) > MOST_BYTES:
        raise UnreadableFile(
            f"{quoted_path(path)} is no file of shared families (more than {MOST_BYTES:,} bytes). Expected: "
            "one written by 'milesleft share'."
        )
    advice = "Ask its maker for a file written by 'milesleft share'."
    most = bound("apart", "largest_words")
    read = read_apart(KIND, content, name=path.name, advice=advice, most_bytes=most).header
    try:
        # Looked at once more: who read it may have been taken over, and would vouch for anything.
        signer = signer_of(read["body"], read["signature"])
        body = harmless(read["body"])
        return Shared(_railway(body["railway"]), _day(body["made_on"]), signer, _families(body))
    except (KeyError, ValueError, TypeError, OverflowError, RecursionError, InvalidSignature) as error:
        why = neutral(str(error)) or _NOT_HELD
        raise UnreadableFile(
            f"{quoted(path.name)} is signed, but cannot be read ({why}). Ask its maker which milesleft "
            "wrote it."
        ) from None


def _railway(name: object) -> str:
    """What a railway calls itself, on one line."""
    text = " ".join(str(name).split())
    if not 0 < len(text) <= MOST_OF_A_NAME:
        raise ValueError(f"the name of its railway has {len(text)} characters")
    return text


def _day(text: object) -> str:
    """The day on which a file was made, which no clock has reached that is right where it lies ahead."""
    day = date.fromisoformat(str(text))
    if day > datetime.now(UTC).date() + timedelta(days=1):
        raise ValueError(f"it says that it was made on {day}, which lies ahead")
    return day.isoformat()


def learn_from(store: Store, shared: Shared, *, new_key: bool = False) -> str:
    """Keep what another railway shared as a run of kind ``shared``; later forecasts use the last of each.

    Raises
    ------
    NotPossible : it is this railway's own file, or a railway of that name used another key before.
    """
    own = default_key(store)
    if own.exists() and fingerprint(_raw(own_key(own).public_key())) == shared.fingerprint:
        raise NotPossible(
            "This file was written from this very store: it would count the same readings twice."
        )
    last = last_of(store, shared.railway)
    if last is not None and last["fingerprint"] != shared.fingerprint and not new_key:
        raise NotPossible(
            f"{quoted(shared.railway)} signed with the key {last['fingerprint']} before and with "
            f"{shared.fingerprint} now. Ask them whether that is so; if it is, --new-key takes it."
        )
    about = {"railway": shared.railway, "fingerprint": shared.fingerprint, "made_on": shared.made_on}
    return store.save_run(
        "shared", {**about, "families": len(shared.families)}, {"families": shared.families}
    )


def default_key(store: Store) -> Path:
    """Where the key of a store lies: beside it."""
    return store.path.with_name(store.path.name + ".key")


def own_key(path: Path) -> Ed25519PrivateKey:
    """The key in a file; a new one, for this user's eyes only, if there is no such file."""
    if not path.exists():
        key = Ed25519PrivateKey.generate()
        pem = key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        with whole_file(path) as fresh, os.fdopen(os.open(fresh, _NEW, 0o600), "wb") as file:
            file.write(pem)
        return key
    try:
        loaded = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm, OSError):
        loaded = None
    if not isinstance(loaded, Ed25519PrivateKey):
        raise NotPossible(
            f"'{path}' holds no Ed25519 private key without a password. Name another with --key, or move it "
            "away to have a new one made (others will then have to accept the new key)."
        )
    return loaded


def _raw(key: Ed25519PublicKey) -> bytes:
    return key.public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)


def _row(row: dict[Any, Any]) -> dict[str, Any]:
    return {
        **{name: str(row[name]) for name in PARTS},
        **{name: int(row[name]) for name in COUNTS},
        **{name: [round(float(row[name]), 5), round(float(row[f"{name}_sd"]), 5)] for name in PARAMETERS},
        "shapes": [round(float(x), 5) for x in row["shapes"]],
    }


def _families(body: dict[str, Any]) -> pd.DataFrame:
    """The families as a table, every number checked: a signature says who wrote it, not that it is sound."""
    if body["parameters"] != list(PARAMETERS) or body["shapes"] != [shape.name for shape in SHAPES]:
        raise ValueError("it has other parameters or shapes of wear than this milesleft")
    rows = []
    for row in body["families"]:
        values = np.array([row[p] for p in PARAMETERS], dtype=float)
        shapes = np.array(row["shapes"], dtype=float)
        if values.shape != (len(PARAMETERS), 2) or shapes.shape != (len(SHAPES),):
            raise ValueError("a family has too few numbers")
        if not np.isfinite(values).all() or (values[:, 1] <= 0).any() or (np.abs(values[:, 0]) > 60).any():
            raise ValueError("a centre or spread is out of bounds")
        if not ((shapes >= 0).all() and abs(shapes.sum() - 1.0) < 0.01):
            raise ValueError("weights of shapes do not sum to 1")
        logs = {p: v[0] for p, v in zip(PARAMETERS, values, strict=True)}
        spreads = {f"{p}_sd": v[1] for p, v in zip(PARAMETERS, values, strict=True)}
        parts = {c: str(row[c]) for c in PARTS} | {c: int(row[c]) for c in COUNTS}
        rows.append(parts | logs | spreads | {"shapes": shapes})
    if not rows:
        raise ValueError("it has no family")
    return pd.DataFrame(rows)
