"""Of what material the part at each wear point is, where its number and a row of the parts tell."""

import numpy as np
import pandas as pd

from models.lives.follow import TRACKS
from models.lives.stints import stints_of
from models.lives.tracks import spells_of


def material_of_points(tables: dict[str, pd.DataFrame], as_of: pd.Timestamp | None = None) -> pd.Series:
    """Material of what each row of the wear points measures.

    Parameters
    ----------
    tables : wear_points and what :func:`models.lives.stints.stints_of` takes, parts with or without
        material; followed or not (:func:`models.lives.follow.follow_parts`): each of its rows belongs to one
        part.
    as_of : day up to which the tables are believed; None: all of them.

    Returns
    -------
    Texts in lower case without needless spaces, index of ``wear_points``; empty where none is told.
    """
    points, parts = tables["wear_points"], tables.get("parts")
    told = np.full(len(points), "", dtype=object)
    if parts is None or "material" not in parts or not parts["material"].fillna("").str.strip().any():
        return pd.Series(told, index=points.index, dtype="str")
    if TRACKS in tables:
        about = tables[TRACKS]
        rows, numbers = about["target"], about["part_no"]
    else:
        spells = spells_of(points, stints_of(tables, as_of), {})
        spells = spells.drop_duplicates("row", keep="last")
        rows, numbers = spells["row"], spells["part_no"]
    words = parts["material"].fillna("").str.lower().str.split().str.join(" ")
    material = dict(zip(parts["part_no"].astype(str), words, strict=True))
    told[rows.to_numpy(dtype=int)] = [material.get(str(number), "") for number in numbers]
    return pd.Series(told, index=points.index, dtype="str")
