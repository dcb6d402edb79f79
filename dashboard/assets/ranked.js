// A list of wear points with a bar of miles, or of work with its reasons. Texts are set as text, never as markup.
function cell(tag, text, className) {
  const element = document.createElement(tag);
  if (text !== undefined) element.textContent = text;
  if (className) element.className = className;
  return element;
}

function bar(row) {
  const track = cell("div", undefined, "track");
  track.setAttribute("aria-hidden", "true");
  const [low, middle, high] = row.span;
  const range = cell("span", undefined, "range " + row.state);
  range.style.left = low * 100 + "%";
  range.style.width = Math.max(high - low, 0.006) * 100 + "%";
  const mark = cell("span", undefined, "mark");
  mark.style.left = middle * 100 + "%";
  track.append(range, mark);
  return track;
}

// Wear over the years planned: the limit across, dashed without the work, full with it.
const WIDE = 160, HIGH = 56, TOP = 1.3;
function strokes(wear) {
  const made = (name, attributes) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  };
  const at = ([x, y]) => (x * WIDE).toFixed(1) + "," + (HIGH - 2 - (y / TOP) * (HIGH - 4)).toFixed(1);
  const picture = made("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": wear.said, class: "wear" });
  const limit = HIGH - 2 - (HIGH - 4) / TOP;
  picture.append(
    made("line", { x1: 0, x2: WIDE, y1: limit, y2: limit, class: "limit" }),
    made("polyline", { points: wear.without.map(at).join(" "), class: "without" }),
    made("polyline", { points: wear.with.map(at).join(" "), class: "with" }),
  );
  return picture;
}

// On a narrow screen the headings are out of sight, so each figure carries its own.
function figure(label, miles, date) {
  const short = cell("span", label, "label");
  short.setAttribute("aria-hidden", "true");
  return [short, cell("strong", miles), cell("span", date, "date")];
}

function opener(text, open) {
  const button = cell("button", text);
  button.type = "button";
  button.onclick = open;
  return button;
}

function line(row, data, pick) {
  const tr = cell("tr");
  const shown = new Set(data.headings.map(([column]) => column));
  const name = cell("th", undefined, "name");
  name.scope = "row";
  const title = row.key ? opener(row.name, () => pick("opened", row.key)) : cell("span", row.name, "title");
  name.append(title, cell("span", row.where, "where"));
  const state = cell("td", undefined, "state");
  if (row.state) state.append(cell("span", undefined, "swatch " + row.state));
  state.append(document.createTextNode(row.word));
  tr.append(name, state);
  if (shown.has("why")) {
    const why = cell("td", row.why, "why");
    for (const more of row.more) why.append(cell("span", more, "more"));
    tr.append(why);
  }
  const low = cell("td", undefined, "low");
  low.append(...figure(data.short_headings[0], row.low, row.low_date));
  const middle = cell("td", undefined, "middle");
  middle.append(...figure(data.short_headings[1], row.middle, row.middle_date));
  tr.append(low, middle);
  if (shown.has("wear")) {
    const wear = cell("td", undefined, "course");
    if (row.wear) wear.append(strokes(row.wear));
    tr.append(wear);
  }
  if (shown.has("span")) {
    const span = cell("td", undefined, "span");
    if (row.span) span.append(bar(row));
    tr.append(span);
  }
  if (shown.has("plan")) {
    const plan = cell("td", undefined, "plan");
    if (row.plan) plan.append(opener(row.plan, () => pick("planned", row.key)));
    tr.append(plan);
  }
  return tr;
}

export default function ({ parentElement, data, setTriggerValue }) {
  const root = parentElement.querySelector(".ranked");
  const pick = (what, key) => setTriggerValue(what, key);
  const table = cell("table");
  table.append(cell("caption", data.caption));
  const head = cell("thead");
  const headings = cell("tr");
  for (const [name, text] of data.headings) {
    const th = cell("th", text, name);
    th.scope = "col";
    headings.append(th);
  }
  head.append(headings);
  const body = cell("tbody");
  for (const row of data.rows) body.append(line(row, data, pick));
  table.append(head, body);
  root.replaceChildren(table);
}
