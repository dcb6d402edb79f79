"""An odometer that shows less than before: replaced, rolled over, another counter, or misread."""

from ingest.verdicts.add import add_files, look_at_files

LOG = "vehicle,date,odometer,unit\n"
READ = "point,date,value,odometer\n"


def test_a_log_that_goes_on_from_a_small_figure_is_asked_about_and_counts_on(known, store, folder):
    path = folder / "log.csv"
    path.write_text(LOG + "410,2002-05-01,40,mi\n410,2002-07-01,900,mi\n")
    (question,) = look_at_files(store, [path]).questions
    assert list(question.answers) == ["replaced", "wrong"]
    assert "showed 12,000 mi on 2002-01-01 and 40 mi on 2002-05-01" in question.text
    assert add_files(store, [path]).count("held back") == 2
    add_files(store, [path], answers={question.id: "replaced"})
    log = store.read("mileage").sort_values("date")
    assert log["event"].tolist()[-2:] == ["replaced", ""]
    assert (log["odometer"].diff().dropna() >= 0).all()
    assert log["odometer"].iloc[-1] - log["odometer"].iloc[-2] == 860


def test_one_figure_less_than_before_is_misread_and_asked_about_by_nobody(known, store, folder):
    path = folder / "log.csv"
    path.write_text(LOG + "410,2002-05-01,1240,mi\n410,2002-07-01,12900,mi\n")
    look = look_at_files(store, [path])
    assert look.questions == ()
    assert "does not fit the entries around it" in " ".join(look.rows["reasons"])


def test_small_odometers_beside_readings_after_the_log_tell_of_a_new_instrument(known, store, folder):
    path = folder / "readings.csv"
    path.write_text(READ + "HOLLOW,2002-03-01,0.1,100\nHOLLOW,2002-04-01,0.11,300\n")
    (question,) = look_at_files(store, [path]).questions
    assert list(question.answers) == ["replaced", "log", "wrong"]
    add_files(store, [path], answers={question.id: "replaced"})
    assert store.read("mileage")["event"].tolist()[-1] == "replaced"
    read = store.read("readings").sort_values("date")
    assert len(read) == 2
    assert read["odometer"].iloc[1] - read["odometer"].iloc[0] == 200


def test_where_the_log_counts_on_the_figures_are_another_counters(known, store, folder):
    path = folder / "readings.csv"
    path.write_text(READ + "HOLLOW,2001-03-01,0.1,100\nHOLLOW,2001-04-01,0.11,300\n")
    (question,) = look_at_files(store, [path]).questions
    assert list(question.answers) == ["log", "wrong"]
    add_files(store, [path], answers={question.id: "log"})
    read = store.read("readings")
    assert read["odometer_source"].tolist() == ["interpolated"] * 2
