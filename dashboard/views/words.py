"""What the words mean: one word for one thing."""

from dashboard.screen import show
from dashboard.screen.in_view import heading
from dashboard.words.glossary import meanings


def page() -> None:
    heading("What the words mean")
    show.words_table(["Word", "What it means"], meanings(), alt_text="The words and what they mean", words=2)


page()
