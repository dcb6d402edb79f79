"""The file of bounds: what it may say, and what is said of one that is wrong."""

import pytest

from dashboard.gate.bounds import load
from ingest.errors import WrongUsage


def test_a_file_says_only_what_is_otherwise(tmp_path):
    path = tmp_path / "bounds.toml"
    path.write_text("[uploads]\nfile_mb = 7\n")
    known, told = load(), load(path)
    assert told.file_mb == 7
    assert told.session_mb == known.session_mb
    assert known.file_mb <= known.session_mb <= known.server_mb


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[upload]\nfile_mb = 7", "'upload' is no section of bounds. Expected: uploads, sockets"),
        ("uploads = 7", "no section"),
        ("[uploads]\nfile = 7", "'file' is no bound. Expected: file_mb, session_mb"),
        ("[uploads]\nfile_mb = 0", "'0' is no whole number above 0"),
        ("[uploads]\nfile_mb = 1.5", "no whole number"),
        ("[uploads]\nfile_mb = true", "no whole number"),
        ('[uploads]\nfile_mb = "7"', "no whole number"),
        ("[uploads", "is not TOML"),
    ],
)
def test_a_wrong_file_says_what_and_where(tmp_path, text, says):
    path = tmp_path / "bounds.toml"
    path.write_text(text)
    with pytest.raises(WrongUsage, match=r"bounds\.toml") as caught:
        load(path)
    assert says in str(caught.value)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(WrongUsage, match="cannot be read"):
        load(tmp_path / "none.toml")
