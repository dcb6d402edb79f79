// A ranked list of wear points: a table with a bar of miles. Texts are set as text, never as markup.
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

// On a narrow screen the headings are out of sight, so each figure carries its own.
function figure(label, miles, date) {
  const short = cell("span", label, "label");
  short.setAttribute("aria-hidden", "true");
  return [short, cell("strong", miles), cell("span", date, "date")];
}

function line(row, data, pick) {
  const tr = cell("tr");
  const name = cell("th", undefined, "name");
  name.scope = "row";
  const button = cell("button", row.name);
  button.type = "button";
  button.onclick = () => pick(row.key);
  name.append(button, cell("span", row.where, "where"));
  const state = cell("td", undefined, "state");
  state.append(cell("span", undefined, "swatch " + row.state), document.createTextNode(row.word));
  const span = cell("td", undefined, "span");
  if (row.span) span.append(bar(row));
  const low = cell("td", undefined, "low");
  low.append(...figure(data.short_headings[0], row.low, row.low_date));
  const middle = cell("td", undefined, "middle");
  middle.append(...figure(data.short_headings[1], row.middle, row.middle_date));
  tr.append(name, state, low, middle);
  if (data.headings.some(([column]) => column === "span")) tr.append(span);
  return tr;
}

export default function ({ parentElement, data, setTriggerValue }) {
  const root = parentElement.querySelector(".ranked");
  const pick = (key) => setTriggerValue("opened", key);
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
