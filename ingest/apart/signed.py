"""The bytes of a file of shared families; runs in the process that reads what strangers made."""

import base64
import hashlib
import json
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from ingest.apart.wire import Bytes, Message
from ingest.errors import UnreadableFile
from ingest.neutral import quoted

FORMAT = "milesleft families 1"


def prepare(need: str) -> None:  # noqa: ARG001  # nothing beyond the usual
    """Load what checking a signature loads at its first use."""
    try:
        Ed25519PublicKey.from_public_bytes(bytes(32)).verify(bytes(64), b"")
    except (InvalidSignature, ValueError):
        return


def answer(question: dict[str, Any], content: Bytes) -> Message:
    """What the file says and its signature, if that holds.

    Returns
    -------
    Message : ``body`` as the file has it, unchecked but for its signature; ``signature`` (base64), for who
        asked to see for themselves that it holds (:func:`signer_of`).

    Raises
    ------
    UnreadableFile : no such file, or changed after it was signed.
    """
    name = quoted(str(question["name"]))
    body = _parsed(bytes(content), name)
    try:
        signature = body.pop("signature")
        signer_of(body, signature)
    except InvalidSignature:
        raise UnreadableFile(
            f"{name} was changed after it was signed: its signature does not fit what it says. "
            "Nothing of it was taken. Ask its maker for the file again."
        ) from None
    except (KeyError, ValueError, TypeError, RecursionError):
        raise UnreadableFile(
            f"{name} has no signature that can be checked. Nothing of it was taken. Ask its maker for "
            "a file written by 'milesleft share'."
        ) from None
    return Message({"body": body, "signature": signature})


def signer_of(body: dict[str, Any], signature: str) -> str:
    """Fingerprint of the key that signed it.

    Raises
    ------
    InvalidSignature : it is not signed by the key that it names.
    KeyError, ValueError, TypeError, RecursionError : it has no signature that can be checked.
    """
    raw = base64.b64decode(body["public_key"], validate=True)
    Ed25519PublicKey.from_public_bytes(raw).verify(
        base64.b64decode(signature, validate=True), signed_bytes(body)
    )
    return fingerprint(raw)


def _parsed(content: bytes, name: str) -> dict[str, Any]:
    try:
        body = json.loads(content.decode("utf-8"))
        if not isinstance(body, dict) or body.get("format") != FORMAT:
            raise ValueError("no such heading")
    except (ValueError, RecursionError) as error:
        raise UnreadableFile(
            f"{name} is no file of shared families ({str(error)[:100]}). Expected: one written by "
            "'milesleft share'."
        ) from None
    return body


def signed_bytes(body: dict[str, Any]) -> bytes:
    """What is signed: everything but the signature, in one spelling."""
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True).encode()


def fingerprint(public: bytes) -> str:
    """Short form of a key for people to compare: 20 hexadecimal digits in fives."""
    digits = hashlib.sha256(public).hexdigest()[:20]
    return "-".join(digits[i : i + 5] for i in range(0, 20, 5))
