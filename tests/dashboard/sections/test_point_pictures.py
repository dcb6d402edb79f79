"""A photo taken at the engine is seen on the page of its wear point, and on no other."""

import io
from datetime import date

from pages.without_browser import opened, said
from PIL import Image

from dashboard.pit.pictures import take_in_picture
from ingest.store import Store


def test_a_photo_is_on_the_page_of_its_wear_point(app, small):
    made = io.BytesIO()
    Image.new("RGB", (40, 30), "#805030").save(made, "JPEG")
    about = {"id": "photo-0001", "point": "N-D2L-HOLLOW", "date": "2023-10-20", "observer": "A. R."}
    told = take_in_picture(Store(small), made.getvalue(), about, "a phone", date(2023, 11, 1))
    assert told["verdict"] == "accepted"
    page = opened(app, "point", point="N-D2L-HOLLOW")
    assert "Pictures" in said(page)
    assert len(page.get("image")) == 1
    assert "Pictures" not in said(opened(app, "point", point="N-D1L-HOLLOW"))
