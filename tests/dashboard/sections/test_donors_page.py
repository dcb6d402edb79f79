"""The page for donors shows a brief as it was kept, and only the one that was shown to them."""

from streamlit.testing.v1 import AppTest

from dashboard.papers.brief_kept import FRAME, as_frame, from_frame, keep_usual_brief
from dashboard.services.kept_cases import SHOWN, decide_on_case
from ingest.store import Store
from ingest.verdicts.add import add_files


def donors_page():
    from dashboard.sections.case import for_donors
    from ingest.errors import UserError

    try:
        for_donors()
    except UserError as error:
        import streamlit

        streamlit.error(str(error))


def seen():
    page = AppTest.from_function(donors_page, default_timeout=60).run()
    assert not page.exception, page.exception
    groups = (page.title, page.markdown, page.caption, page.subheader, page.error)
    return [e.value for group in groups for e in group] + [(m.label, m.value) for m in page.metric]


def test_donors_see_what_was_shown_to_them_whatever_changes_after(small, tmp_path):
    store = Store(small)
    assert "There is no brief to show yet" in str(seen())
    first = keep_usual_brief(store)
    assert "There is no brief to show yet" in str(seen())  # kept is not shown
    decide_on_case(store, first, "Nettle", SHOWN)
    before = seen()
    assert "Keep Nettle running" in before

    (tmp_path / "funds.csv").write_text("date,amount,currency,kind\n2023-10-01,111000,USD,received\n")
    add_files(store, [tmp_path / "funds.csv"])
    (small.parent / "brief.toml").write_text('[brief]\ntitle = "DRAFT do not show"\n')
    second = keep_usual_brief(store)
    assert seen() == before
    decide_on_case(store, second, "Nettle", SHOWN)
    assert seen() != before


def test_a_kept_brief_comes_back_as_it_was(small):
    store = Store(small)
    frame = store.read_run(keep_usual_brief(store), FRAME)
    kept = from_frame(frame)
    assert as_frame(kept)["content"].tolist() == frame["content"].tolist()
    assert kept.campaign.startswith("<svg")
