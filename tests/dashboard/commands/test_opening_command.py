"""An opening on the command line, from its first day to its last."""

import io
import json

import pytest
from click.testing import CliRunner
from PIL import Image

from dashboard.cli import main
from ingest.store import Store


@pytest.fixture
def call(small):
    """``opening ...`` on a copy of the small railway."""

    def caller(*arguments, code=0):
        result = CliRunner().invoke(main, ["opening", *map(str, arguments), "--db", str(small)])
        assert result.exit_code == code, result.output
        return result.output

    return caller


def photo(path):
    """A picture that says where it was taken."""
    picture, about = Image.new("RGB", (3000, 2000), "gray"), Image.Exif()
    about[0x010F] = "a telephone"
    about.get_ifd(0x8825)[1] = "N"
    picture.save(path, exif=about)
    return path


def test_an_opening_from_its_first_day_to_its_last(call, small, tmp_path):
    assert "No opening is on record" in call("list")
    call("begin", "Nettle", "--from", "2023-11-01", "--depth", "wheels_out", "--where", "own shop")
    axle = ("found", "Nettle", "--component", "axle", "--on", "2023-11-03", "--who", "R. T.")
    what = ("--defect", "crack", "--size", "3/4 in", "--place", "fillet", "--method", "magnetic_particle")
    picture = ("--picture", photo(tmp_path / "axle.jpg"))
    call(*axle, "--position", "driver 1", *what, "--verdict", "renew", *picture)
    call(*axle, "--position", "driver 2")
    again = call(*axle, "--position", "driver 2")
    assert "Known already" in again
    said = call("show", "Nettle")
    assert "axle: 2 examined, 1 defective" in said
    assert "axle, driver 1, fillet: crack, 0.750 in; magnetic particle, by R. T.: renew" in said
    call("close", "Nettle 2023-11", "--until", "2024-02-01")
    listed = json.loads(call("list", "--json"))
    assert [(row["opening"], row["until"], row["defects"]) for row in listed] == [
        ("Nettle 2023-11", "2024-02-01", 2)
    ]
    store = Store(small)
    row = store.read("pictures").iloc[0]
    kept = Image.open(io.BytesIO(store.picture(row["picture"])))
    assert max(kept.size) == 1600
    assert not kept.getexif()
    assert row["file_name"] == "axle.jpg"


def test_what_cannot_be_is_said_in_plain_words(call, tmp_path):
    assert "holds none of this name" in call("show", "nowhere", code=2)
    call("begin", "Nettle", "--from", "2023-11-01")
    assert "Close that opening first" in call("begin", "Nettle", "--from", "2023-12-01", code=1)
    (tmp_path / "no.jpg").write_bytes(b"\xff\xd8\xff nothing")
    said = call("found", "Nettle", "--component", "axle", "--picture", tmp_path / "no.jpg", code=1)
    assert "it cannot be drawn" in said
    assert "Size" in call("found", "Nettle", "--component", "axle", "--size", "large", code=2)
    assert "until must not lie before since" in call("close", "Nettle", "--until", "2023-10-01", code=1)


def test_as_found_stands_beside_the_forecast_of_the_day_before(call, small, tmp_path):
    from ingest.verdicts.add import add_files

    sheet = tmp_path / "found.csv"
    sheet.write_text("point,date,value,unit\nN-D2L-HOLLOW,2023-11-03,0.28,in\nN-XH-L,2023-11-03,0.2,in\n")
    add_files(Store(small), [sheet])
    call("begin", "Nettle", "--from", "2023-11-01")
    told = json.loads(call("show", "Nettle", "--json"))
    found = {row["point"]: row for row in told["found"]}
    assert found["N-XH-L"]["held"] is False  # 0.07 in September
    assert found["N-D2L-HOLLOW"]["held"] is True
    assert found["N-D2L-HOLLOW"]["source_file"] == "found.csv"
