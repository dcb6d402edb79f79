"""Whether a store holds the demo's invented railway, so that its papers can say so."""

from ingest.store import Store

WHO = "demo"
"""Who took the demo railway in, as its batches name it."""
VEHICLES = {"Quillon", "Hobnail"}


def is_invented(store: Store) -> bool:
    """Whether the demo railway was taken into the store."""
    if not store.path.exists() or not (store.batches()["who"] == WHO).any():
        return False
    return set(store.read("vehicles")["vehicle"]) >= VEHICLES
