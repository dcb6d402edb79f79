"""How a forecast is made: in words, and the formulas for those who want them."""

import streamlit as st

from dashboard.screen.in_view import heading

WORDS = [
    (
        "1. What is measured",
        "A **wear point** is one measured thing at one place: the hollow of one tread, the thickness of "
        "one brass. "
        "Its readings lie on a line that climbs toward the limit as the miles add up. The line starts "
        "anew with "
        "every renewal: each stretch in between is one **life**.",
        None,
    ),
    (
        "2. Wear is not a straight line",
        "There are good seasons and bad ones, and the gauge and the hand that holds it are never quite "
        "true. So "
        "the true wear is taken to drift along its own rate with a little wandering, and each reading to "
        "lie near it. "
        "Reading by reading the forecast keeps two figures up to date: how far worn, and how fast, each "
        "with how "
        "sure it is. A reading far from all others counts less, and is named.",
        r"""x(m+d) = x(m) + b\,d + \tau\sqrt{d}\,\varepsilon, \qquad y = x + \sigma\,\eta, \qquad
        \varepsilon, \eta \sim N(0,1)""",
    ),
    (
        "3. What its family has taught",
        "Parts of one kind wear alike but not the same. All lives of a **family** are learned together: "
        "how fast they "
        "wear on average, how much one differs from the next, how much they wander. A new part with one "
        "reading "
        "leans on its family; one with ten readings speaks for itself.",
        r"""b \sim N(\mu, s_b^2), \qquad x(0) \sim N(a_0, s_a^2)""",
    ),
    (
        "4. Running-in and acceleration",
        "Some wear is quick at first, some quicker toward the end. From half a life nobody knows which. "
        "So several "
        "shapes are carried along, each with the weight that the family's record gives it, and the "
        "forecast is their "
        "mean: never the most hopeful of them.",
        r"""m \mapsto m^{c}, \qquad g_k(w) = \frac{1 - e^{-k w/D}}{k}""",
    ),
    (
        "5. When the limit is reached",
        "From how far, how fast and how sure follows the chance that the limit is reached within so many "
        "miles. "
        "That is why the answer is never one number: *1 in 20 after 1,200 miles* and *half after "
        "3,400* are two "
        "points of the same curve. Plan by the careful one.",
        r"""F(d) = \Phi\!\left(\frac{bd-h}{S}\right)
        + \exp\!\left(\frac{2bh}{\tau^2}+\frac{2vh^2}{\tau^4}\right)
        \Phi\!\left(-\frac{2vhd+\tau^2(bd+h)}{\tau^2 S}\right),
        \quad S=\sqrt{v d^2+\tau^2 d},\ h = D - x""",
    ),
    (
        "6. From miles to dates",
        "Planned running turns miles into dates. Where nothing is planned, the seasons in the log stand "
        "in. A range "
        "of miles and a range of seasons make the range of the date.",
        None,
    ),
    (
        "7. What it does not know",
        "Cracks, heat, lost oil, a stone on the rail: no line of readings tells of them. Gaps make a "
        "forecast "
        "wider, never kinder. Where nothing can be told, it says so and why.",
        None,
    ),
]


def page() -> None:
    heading("How a forecast is made")
    formulas = st.toggle("Show the formulas", key="formulas")
    for title, text, formula in WORDS:
        st.subheader(title)
        st.markdown(text)
        if formulas and formula:
            st.latex(formula)
    if formulas:
        st.caption(
            "x wear, y reading, m and d miles, b rate, D wear at the limit, w wear, v variance of the "
            "rate; tau, sigma, "
            "mu, s_b, s_a, a_0 and the weights of c and k are learned from the family by maximum "
            "likelihood with weak "
            "priors. F(d) is the chance that the limit is reached within d miles; it is averaged over "
            "what is not "
            "known of x and of the family."
        )


page()
