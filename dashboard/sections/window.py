"""The parts of the page about windows: which plan, the windows, what is in one, the risk of waiting."""

from collections.abc import Mapping
from dataclasses import replace

import pandas as pd
import streamlit as st

from dashboard.pictures import charts_plan
from dashboard.pictures.wear_course import Stroke
from dashboard.screen import address, data, show
from dashboard.screen.access import Person
from dashboard.screen.components import ranked, work
from dashboard.screen.in_view import InView
from dashboard.sections import wear_list
from dashboard.services.kept_plans import compare_kept, plan_against_done
from dashboard.services.plan_material import PlanChoices
from dashboard.services.plan_state import (
    APPROVED,
    PROPOSED,
    STATE_WORDS,
    WHAT_IF,
    WITHDRAWN,
    decide,
    run_in_force,
    with_state,
)
from dashboard.services.planning import plan_and_store
from dashboard.words.plan_words import (
    DEPTH_WORDS,
    NO_SOONER,
    PRESSING,
    beside_reason,
    done_words,
    past_words,
    stopper_words,
    stops_words,
    why_not,
    why_words,
)
from dashboard.words.records import as_records
from ingest.errors import UserError
from models.case.money import only_currency, rounding_step
from models.frequency import of_100, times_in
from models.tires.turnings import POLICIES

SCOPE = {
    "component": "Component",
    "position": "Position",
    "action": "Action",
    "why": "Why now",
    "reason": "Reason",
    "not_later": "Why not a window later",
    "not_sooner": "Why not a window sooner",
    "cost": "Cost",
    "labor_hours": "Hours",
    "depth": "Opened to",
    "unused_miles": "Unused miles",
}
LINES_SHOWN = 12
STATE_MEANS = {
    WHAT_IF: "A what-if: it changes nothing else.",
    PROPOSED: "Proposed: the brief follows the newest proposed plan as long as none is approved.",
    APPROVED: "Approved: the brief follows the plan approved last.",
    WITHDRAWN: "Withdrawn: nothing follows it.",
}
SHARE = {
    "1.0": "as planned",
    "0.5": "half",
    "0.75": "three quarters",
    "1.25": "a quarter more",
    "1.5": "half more",
}


def kept() -> pd.DataFrame:
    """Kept plans with their state, newest first, as ``plan_state.states`` has them."""
    return with_state(data.runs("plan"), data.decisions("plan"))


def plans(states: pd.DataFrame) -> dict[str, str]:
    """Kept plans, newest first: run id and what people call it, with its state."""
    out = {}
    for run in states.to_dict("records"):
        state = STATE_WORDS[str(run["state"])]
        out[str(run["run_id"])] = (
            f"{run['name'] or 'unnamed plan'}, {state}, {run['made_at']:%-d %b %Y %H:%M}"
        )
    return out


def followed(states: pd.DataFrame, vehicle: str) -> str:
    """The plan that holds for a vehicle, else the newest kept."""
    return run_in_force(states, vehicle) or str(states["run_id"].iloc[0])


def decision(states: pd.DataFrame, plan: str, who: Person) -> None:
    """What was decided about the plan, and buttons to decide otherwise for those who may."""
    row = states[states["run_id"] == plan].iloc[0]
    state = str(row["state"])
    st.markdown(show.plain(f"{STATE_MEANS[state]}{_decided_words(row)}"))
    steps = {
        "Propose it": (PROPOSED, "plan", state in (WHAT_IF, WITHDRAWN)),
        "Approve it": (APPROVED, "all", state != APPROVED),
        "Withdraw it": (WITHDRAWN, "all" if state == APPROVED else "plan", state != WITHDRAWN),
    }
    offered = {word: to for word, (to, act, fits) in steps.items() if fits and who.may(act)}  # type: ignore[arg-type]
    if not offered:
        return
    with st.container(horizontal=True):
        for word, to in offered.items():
            if st.button(word, key=f"plan-{to}"):
                decide(data.store(), plan, to, who=who.name)
                st.rerun()


def _decided_words(row: pd.Series) -> str:
    """Who decided, and why, where somebody did."""
    if not row["decided"]:
        return ""
    note = f": {row['note']}" if row["note"] else ""
    return f" Decided by {row['who']}{note}."


def engine(view: InView) -> str:
    """The engine whose plan is shown: the one chosen, else that of the sidebar, else the first."""
    chosen = address.chosen("engine", view.vehicle)
    vehicles = sorted(view.forecast["vehicle"].unique())
    return chosen if chosen in vehicles else str(vehicles[0])


def of_vehicle(plan: str, frame: str, vehicle: str) -> pd.DataFrame:
    """Rows of one vehicle in a frame of a plan; some frames are empty where there is nothing to say."""
    rows = data.frame_if_any(plan, frame)
    return rows[rows["vehicle"] == vehicle].reset_index(drop=True) if "vehicle" in rows else rows.iloc[:0]


def calendar(plan: str, vehicle: str) -> str:
    """The windows with work in them, and the one that is looked into."""
    opened = of_vehicle(plan, "windows", vehicle)
    opened = opened[opened["lines"] > 0]
    amounts = of_vehicle(plan, "amounts", vehicle)
    both = (
        opened.merge(amounts[["window", "p50", "p80"]], on="window", how="left") if len(amounts) else opened
    )
    if both.empty:
        st.success("Nothing has to be done in the years planned.")
        return ""
    currency = _currency(plan, vehicle)
    _answer(both, currency)
    frame = both.assign(depth=both["depth"].map(DEPTH_WORDS).fillna("in place"))
    for name in ("p50", "p80"):
        frame[name] = (
            frame[name].fillna(frame["cost"] + frame["opening_cost"]) if name in frame else frame["cost"]
        )
    said = "; ".join(f"{r['label']}: {r['depth']}, {r['p80']:,.0f}" for r in frame.to_dict("records"))
    show.chart(show.drawn(charts_plan.windows, frame, currency), f"windows-{vehicle}", alt_text=said)
    labels = {str(row["window"]): str(row["label"]) for row in frame.to_dict("records")}
    return address.pick(st.selectbox, "Window shown", list(labels), "window", words=labels.__getitem__)


def _answer(both: pd.DataFrame, currency: str) -> None:
    to_pay = both[both["cost"] + both["opening_cost"] > 0]
    first = (to_pay if len(to_pay) else both).iloc[0]
    depth = DEPTH_WORDS.get(str(first["depth"]), "in place")
    money = ""
    if "p80" in both and pd.notna(first["p80"]):
        step = rounding_step(float(first["p80"]))
        p50, p80 = (f"{round(first[name] / step) * step:,}" for name in ("p50", "p80"))
        money = f", {currency} {p80} is enough {times_in(0.8)} ({p50} {times_in(0.5)})"
    st.markdown(
        f"Open it in **{show.plain(first['label'])}**, **{depth}**: {first['lines']} jobs, "
        f"{first['labor_hours']:,.0f} hours{show.plain(money)}."
    )


def _currency(plan: str, vehicle: str) -> str:
    return only_currency(of_vehicle(plan, "scope", vehicle)["currency"]) or "money"


def scope(
    view: InView, plan: str, vehicle: str, window: str, wear: Mapping[str, Mapping[str, Stroke]]
) -> None:
    """What is done in one window, and why each line is in it, not later and not sooner.

    ``wear``: strokes of the wear points, as ``pictures.wear_course.courses`` gives them.
    """
    rows = of_vehicle(plan, "scope", vehicle)
    rows = rows.join(why_not(rows, of_vehicle(plan, "windows", vehicle)))
    rows = rows[rows["window"] == int(window)].reset_index(drop=True)
    st.subheader(show.plain(f"What is in it: {rows['label'].iloc[0]}"))
    rows = _most_pressing_first(rows)
    least = max(int(rows["why"].str.startswith("must").sum()), LINES_SHOWN)
    everything = len(rows) <= least or st.toggle(f"Show all {len(rows)} lines", key="scope-all")
    lines = rows if everything else rows.head(least)
    caption = (
        f"{len(lines)} of {len(rows)} lines: what must be done, what pays, what is cheaper while it is open. "
        "Wear of the part that governs: dashed without the work, full with it, the limit across."
    )
    if bool((rows["not_sooner"] == NO_SOONER).all()):
        caption += " No window comes sooner."
    opened = work(beside_reason(lines), wear, caption=caption, key=f"scope-{vehicle}-{window}")
    if opened:
        address.go("views/point.py", point=opened)
    shown = rows.assign(
        depth=rows["depth"].map(DEPTH_WORDS), unused_miles=view.units.miles(rows["unused_miles"]).round(-2)
    )
    heads = {**SCOPE, "unused_miles": f"Unused [{view.units.distance}]"}
    show.downloads(
        shown[list(heads)].rename(columns=heads), f"scope-{vehicle}-{rows['label'].iloc[0]}".replace("/", "-")
    )
    lines = of_vehicle(plan, "amount_lines", vehicle)
    lines = lines[lines["window"] == int(window)] if len(lines) else lines
    if len(lines):
        with st.expander("What it may come to, line by line"):
            words = {
                "line": "Work",
                "kind": "Kind",
                "parts": "Parts",
                "at50": "Enough 5 times in 10",
                "at80": "Enough 8 times in 10",
            }
            money = lines.assign(
                **{name: lines[name].round(-1) for name in ("at50", "at80")}, parts=lines["parts"].round(1)
            )
            show.table(money, f"amount-{vehicle}-{window}", words=words, alt_text="Lines of the amount")


def _most_pressing_first(scope: pd.DataFrame) -> pd.DataFrame:
    """Lines with the word why each is there: what must be done, likeliest first, then what was asked for."""
    order = {word: place for place, word in enumerate(PRESSING)}
    why = why_words(scope)
    ranked_by = scope.assign(why=why, _word=why.map(order), _chance=-scope["chance_by_next"].fillna(0.0))
    ranked_by = ranked_by.sort_values(["_word", "_chance", "component", "position"], kind="stable")
    return ranked_by.drop(columns=["_word", "_chance"]).reset_index(drop=True)


def waiting(view: InView, plan: str, vehicle: str) -> None:
    """What if nothing is done: month by month, and who carries the risk."""
    st.subheader("What if we wait?")
    risk = of_vehicle(plan, "risk", vehicle)
    last = risk.iloc[-1]
    said = (
        f"By the end of {last['month']:%B %Y}, when the years planned are over, the engine has had to stop "
        f"in mid-season {times_in(last['without_work'])} without work, "
        f"{times_in(last['with_plan'])} with this plan. Every wear point counts, also those reached in "
        "place."
    )
    at_limit = of_vehicle(plan, "at_limit", vehicle)
    past = past_words(at_limit["point"].tolist() if len(at_limit) else [])
    st.markdown(f"{said} {show.plain(past)}".rstrip())
    show.chart(show.drawn(charts_plan.waiting, risk), f"waiting-{vehicle}", alt_text=said)
    carriers = of_vehicle(plan, "carriers", vehicle).head(8)
    sets = carriers.get("scrap_of", pd.Series("", carriers.index)).fillna("") != ""
    st.markdown("Without work it is stopped first, most often, by:")
    for row in carriers[sets].to_dict("records"):
        st.markdown(f"- {show.plain(stopper_words(row))}: {times_in(row['without_work'])}")
    points = carriers.loc[~sets, "point"]
    rows = view.forecast.set_index("point", drop=False).reindex(points).dropna(subset=["vehicle"])
    if rows.empty:
        return
    caption = "Wear points that stop the engine most often."
    opened = ranked(rows, view.units, caption=caption, key="carriers").opened
    wear_list.downloads(rows, view.units, f"carriers-{vehicle}".replace("/", "-"))
    if opened:
        address.go("views/point.py", point=opened)


def risk_of_engine(plan: str, vehicle: str) -> None:
    """The chance of each season that the engine must be taken out of service, and what less of it costs."""
    seasons = of_vehicle(plan, "engine_risk", vehicle)
    if seasons.empty or not (seasons["season"] > 0).any():
        return
    st.subheader("How often would it be taken out of service?")
    said = stops_words(seasons)
    st.markdown(show.plain(said))
    head = ("Season", "Without work", "With this plan")
    rows = [
        (str(row["label"]), of_100(row["without_work"]), of_100(row["with_plan"]))
        for row in as_records(seasons)
    ]
    st.caption("Times in 100 that it must be taken out of service in that season.")
    show.words_table(head, rows, alt_text=said)
    show.downloads(pd.DataFrame(rows, columns=head), f"seasons-{vehicle}")
    rungs = of_vehicle(plan, "frontier", vehicle)
    if len(rungs) < 2:
        return
    st.markdown("**What less risk costs.** Choose the chance that you accept, and make a plan with it below.")
    costs = (
        "Stopped seasons in 100",
        f"Work and lost days, {_currency(plan, vehicle)}",
        "Openings, rods down or deeper",
        "",
    )
    plans = [
        (
            f"{100 * row['chance']:.1f}",
            f"{round(row['money'], -2):,.0f}",
            f"{row['openings']:.0f}",
            "this plan" if row["chosen"] else "",
        )
        for row in as_records(rungs)
    ]
    show.words_table(costs, plans, alt_text="Cost against the chance of a stopped season")
    show.downloads(pd.DataFrame(plans, columns=[*costs[:-1], "plan"]), f"frontier-{vehicle}")


def warnings(plan: str, vehicle: str) -> None:
    """What is past the accepted risk before any window comes, and what could not be planned at all."""
    late = of_vehicle(plan, "late", vehicle)
    if len(late):
        st.warning(
            f"{len(late)} wear points are planned late: they are past the accepted risk before a window "
            "comes. They are in the first one."
        )
        with st.expander("Which they are"):
            shown = late.assign(
                chance=(100 * late["chance"]).round(), accepted=(100 * late["accepted"]).round()
            )
            words = {
                "point": "Wear point",
                "label": "Planned in",
                "chance": "Times in 100 at the limit, or scrap with its set, by then",
                "accepted": "Accepted, times in 100",
            }
            show.table(shown, f"late-{vehicle}", words=words, alt_text="Wear points planned late")
    missing = of_vehicle(plan, "not_planned", vehicle)
    if len(missing):
        with st.expander(f"Not in the plan, examine at each opening: {len(missing)}"):
            words = {"point": "Wear point", "reason": "Why"}
            show.table(missing, f"not-planned-{vehicle}", words=words, alt_text="Wear points not in the plan")


def what_if(view: InView) -> None:
    """Ask for a plan from the forecast looked at: kept under a name, to be held beside others."""
    with st.form("plan"):
        st.markdown("**Make a plan**")
        cells = st.columns(4)
        name = cells[0].text_input("Name", "", max_chars=60, key="plan-name")
        years = cells[1].number_input("Years", 1, 30, 10, key="plan-years")
        help_words = "How often an engine may have to be taken out of service in a season."
        risk = cells[2].number_input(
            "Stopped seasons accepted, in 100", 1, 50, 5, key="plan-risk", help=help_words
        )
        usual = list(POLICIES).index(PlanChoices().turning)
        turning = cells[3].selectbox("Turn tires", list(POLICIES), usual, key="plan-turning")
        cells = st.columns(4)
        usage = cells[0].selectbox("Miles run", list(SHARE), format_func=SHARE.__getitem__, key="plan-usage")
        cost = cells[1].selectbox("Prices", list(SHARE), format_func=_price_words, key="plan-cost")
        day = cells[2].number_input("A day lost costs", 0, 1_000_000, 1000, 100, key="plan-day")
        if not st.form_submit_button("Plan", type="primary"):
            return
    choices = PlanChoices(years=float(years), usage=float(usage), cost=float(cost), turning=turning)
    usual_part_risk = choices.rules.risk
    rules = replace(choices.rules, stop_risk=risk / 100, risk=max(usual_part_risk, risk / 100))
    choices = replace(choices, rules=replace(rules, lost_day=float(day)))
    with st.spinner("Searching for the best windows …"):
        run, _ = plan_and_store(data.store(), choices, forecast=view.run_id, name=name.strip())
    address.choose("plan", run)
    st.rerun()


def _price_words(share: str) -> str:
    return "as listed" if share == "1.0" else SHARE[share]


@st.cache_data(show_spinner=False, max_entries=16)
def _compared(identity: tuple[str, int], plan: str, other: str) -> pd.DataFrame:  # noqa: ARG001
    return compare_kept(data.store(), plan, other)


@st.cache_data(show_spinner=False, max_entries=16)
def _done(identity: tuple[str, int], version: int, plan: str) -> pd.DataFrame:  # noqa: ARG001
    return plan_against_done(data.store(), plan)


def compare(known: dict[str, str], plan: str) -> None:
    """This plan beside another, and against what was done since."""
    others = [run for run in known if run != plan]
    if others:
        st.subheader("Beside another plan")
        other = address.pick(st.selectbox, "The other plan", others, "beside", words=known.__getitem__)
        table = _compared(data.identity(), plan, other)
        words = {"vehicle": "Vehicle", "what": "What", plan: "This plan", other: "The other"}
        show.table(table.round(3), "plans-compared", words=words, alt_text="Two plans side by side")
    with st.expander("This plan against what was done"):
        try:
            done = _done(data.identity(), data.version(), plan)
        except UserError as error:
            st.markdown(show.plain(error))
            return
        st.markdown(show.plain(f"{done_words(done)}."))
        show.table(done, "plan-and-done", words={str(c): str(c) for c in done}, alt_text="Planned and done")
