"""Findings that are not dimensions: a cracked part is out whatever its miles.

A finding is a row of the table of findings: a component of a vehicle, how many were examined, how many were
defective, and a note that says what was seen and where. What the note names is looked up in the catalogue of
defects.
"""

import re

import pandas as pd

COLUMNS = ["point", "vehicle", "date", "component", "kind", "located", "paragraph", "note"]
_SIDE_OF_WORD = r"(?<![a-z]){}(?![a-z])"


def defects_found(findings: pd.DataFrame, defects: pd.DataFrame) -> pd.DataFrame:
    """What each finding with a defect names.

    Parameters
    ----------
    findings : vehicle, date, component, examined, defective, note.
    defects : kind, components (parted by |, * for any), words (parted by |), condemns (yes / no), paragraph,
        status.

    Returns
    -------
    Rows of ``findings`` with a defect and a kind of defect that their component and note name, with kind,
    condemns (bool), paragraph; a finding that names two kinds has two rows. A defect without a word of the
    catalogue has the kind ``not named`` and does not condemn: ``note`` is for people to read.
    """
    found = findings[findings["defective"] > 0]
    note = found["note"].fillna("").astype(str)
    text = (found["component"].astype(str) + " " + note).str.lower()
    parts = []
    for row in defects.to_dict("records"):
        words = "|".join(re.escape(word) for word in str(row["words"]).split("|"))
        named = text.str.contains(_SIDE_OF_WORD.format(f"(?:{words})"), regex=True) & ~_denied(text, words)
        parts_of = str(row["components"]).split("|")
        component = found["component"].astype(str).str.lower()
        fits = [parts_of == ["*"] or any(part in one for part in parts_of) for one in component]
        mine = found[named & pd.Series(fits, found.index, dtype=bool)]
        parts.append(
            mine.assign(
                kind=str(row["kind"]), condemns=row["condemns"] == "yes", paragraph=str(row["paragraph"])
            )
        )
    rows = pd.concat(parts)
    unnamed = found[~found.index.isin(rows.index)].assign(kind="not named", condemns=False, paragraph="")
    return pd.concat([rows, unnamed]).sort_values(["vehicle", "date"], kind="stable").reset_index(drop=True)


def condemned_points(
    wear_points: pd.DataFrame, findings: pd.DataFrame, work: pd.DataFrame, defects: pd.DataFrame
) -> pd.DataFrame:
    """Wear points whose part a finding has condemned and no renewal has replaced since.

    Parameters
    ----------
    wear_points : point, vehicle, component, position.
    findings, defects : as :func:`defects_found` takes them.
    work : point, date, action; a renewal on or after the day of the finding clears the point.

    Returns
    -------
    ``COLUMNS``, one row a wear point and finding. ``located``: the finding names this position. A finding
    that names none speaks of every position of its component until someone says which: they are all listed,
    not located.
    """
    out = defects_found(findings, defects)
    out = out[out["condemns"]]
    if out.empty:
        return pd.DataFrame(columns=COLUMNS)
    points = wear_points[["point", "vehicle", "component", "position"]].rename(columns={"component": "part"})
    rows = out.reset_index(names="finding").merge(points, on="vehicle")
    said = (rows["component"].astype(str) + " " + rows["note"].fillna("").astype(str)).str.lower()
    component = rows["component"].astype(str).str.lower()
    part = rows["part"].astype(str).str.lower()
    same = [
        one.strip() != "" and (one in two or two in one) for one, two in zip(part, component, strict=True)
    ]
    rows, said = rows[same], said[same]
    position = rows["position"].fillna("").astype(str).str.lower()
    located = [bool(place) and place in text for place, text in zip(position, said, strict=True)]
    rows = rows.assign(located=pd.Series(located, rows.index, dtype=bool))
    anywhere = rows.groupby("finding")["located"].transform("any")
    rows = rows[rows["located"] | ~anywhere]
    renewed = work[work["action"] == "renewed"].groupby("point")["date"].max()
    cleared = renewed.reindex(rows["point"]).to_numpy() >= rows["date"].to_numpy()
    return rows[~cleared][COLUMNS].reset_index(drop=True)


def _denied(text: pd.Series, words: str) -> pd.Series:
    """``no cracks``, ``free of cracks``: the word is there to say that the thing is not."""
    return text.str.contains(rf"\b(?:no|not|without|free of|free from)\s+(?:{words})", regex=True)
