// A written sheet typed in at the desk: the same order, the same reading and judging, the keyboard alone.

import { ALL, DUE, applyTheme, asChoices, choicesOf, offer, showWaiting } from "./both.js";
import { FAR, IMPOSSIBLE } from "./judge.js";
import * as keep from "./keep.js";
import * as send from "./send.js";
import { Session, keptRound, odometerDoubt, today } from "./session.js";

const $ = (id) => document.getElementById(id);
const now = { session: null, engine: "", scan: "", sheet: null, rows: new Map() };
const sending = new send.Sending(showWaiting($("sent")), showEmpty);
// What a line may hold instead of a reading: its kind, how it is read, what is said once it is kept.
const OTHER = new Map([
  ["n", { kind: "not reached", words: "could not be reached", kept: "could not be reached: kept." }],
  ["c", { kind: "cracked", words: "looks cracked", kept: "looks cracked: kept as a finding. Tell who runs the shop." }],
]);

const about = () => Object.fromEntries(["date", "observer", "gauge", "odometer"].map((name) => [name, $(name).value.trim()]));

// ---- the lines

async function build() {
  const round = now.session.round;
  const numbers = new Map(round.places.map((place, i) => [place.key, i + 1]));
  now.rows = new Map(now.session.points.map((point) => [point.point, pointRow(point, numbers.get(point.place))]));
  $("odometer-label").textContent = `Odometer, as it shows [${round.odometer.unit}]; last ${round.odometer.last}`;
  $("printed").textContent = round.name || round.vehicle;
  for (const places of [DUE, ALL]) {
    for (const paper of ["a4", "letter"]) {
      const asked = new URLSearchParams({ vehicle: round.vehicle, paper, places });
      $(`${places}-${paper}`).href = `./api/sheet?${asked}`;
    }
  }
  $("print-due").hidden = !now.session.points.some((each) => each.due);
  offerLines(now.sheet ? now.sheet.code : ALL);
  arrange();
  await showNoted();
}

function offerLines(chosen) {
  const sheet = now.sheet ? [{ value: now.sheet.code, words: `sheet ${now.sheet.code}: ${now.sheet.points.length}` }] : [];
  offer($("lines"), [...sheet, ...choicesOf(now.session.points)], chosen);
}

// The lines that were chosen, in their order, each place said where it begins.
function arrange() {
  const chosen = $("lines").value, all = now.session.points;
  const due = all.filter((each) => each.due);
  const ofSheet = () => now.sheet.points.map((name) => now.session.byName.get(name)).filter(Boolean);
  const lines = chosen === ALL ? all : chosen === DUE ? (due.length ? due : all) : ofSheet();
  const rows = [];
  let before = "";
  for (const point of lines) {
    if (point.where !== before) rows.push(placeRow(point.where));
    before = point.where;
    rows.push(now.rows.get(point.point));
  }
  $("rows").tBodies[0].replaceChildren(...rows);
}

function placeRow(words) {
  const row = document.createElement("tr");
  row.className = "place";
  const head = document.createElement("th");
  head.colSpan = 4;
  head.textContent = words;
  row.append(head);
  return row;
}

function pointRow(point, number) {
  const row = document.createElement("tr");
  row.dataset.point = point.point;
  const cells = Array.from({ length: 4 }, () => row.appendChild(document.createElement("td")));
  cells[0].textContent = number;
  cells[1].textContent = `${point.what} [${point.unit}]`;
  const field = document.createElement("input");
  field.autocomplete = "off";
  field.maxLength = 300;
  field.setAttribute("aria-label", `${point.where}, ${point.what}`);
  cells[2].append(field);
  cells[3].setAttribute("role", "status");
  field.addEventListener("input", () => showRead(row, point));
  field.addEventListener("keydown", (event) => onKey(event, row, point));
  return row;
}

const fieldOf = (row) => row.querySelector("input");

function told(row, how, words) {
  row.cells[3].className = how;
  row.cells[3].textContent = words;
}

// What this browser has noted of the day already: whoever loads the page again sees where to go on.
async function showNoted() {
  const noted = (await keep.all("entries")).filter((each) => each.date === $("date").value && each.state !== "taken out");
  for (const entry of noted.sort((a, b) => a.at - b.at)) {
    const row = now.rows.get(entry.point);
    if (!row || fieldOf(row).value) continue;
    row.dataset.before = entry.kind === "reading" ? entry.value : entry.kind;
    told(row, "told", `Noted for this day: ${row.dataset.before}.`);
  }
}

// ---- what is typed

// A line as it is typed: the value, and after a semicolon a note.
function parted(row) {
  const [text, ...note] = fieldOf(row).value.split(";");
  return { text: text.trim(), note: note.join(";").trim() };
}

function showRead(row, point) {
  delete row.dataset.asked;
  const { text } = parted(row);
  const other = OTHER.get(text.toLowerCase());
  if (other) return told(row, "", other.words);
  const read = now.session.reads(text, point);
  return told(row, read.problem ? "warn" : "", read.words);
}

function onKey(event, row, point) {
  if (event.key === "Enter") { event.preventDefault(); enter(row, point); }
  else if (event.key === "ArrowDown") { event.preventDefault(); next(row, 1); }
  else if (event.key === "ArrowUp") { event.preventDefault(); next(row, -1); }
}

function next(row, by) {
  const fields = [...$("rows").querySelectorAll("tbody input")];
  const to = fields[fields.indexOf(fieldOf(row)) + by];
  if (to) { to.focus(); to.scrollIntoView({ block: "center" }); }
  else if (by > 0) {
    say("told", "That was the last of these lines. The next sheet: type its code.");
    $("code").value = "";
    $("code").focus();
    $("code").scrollIntoView({ block: "center" });
  }
}

function say(how, words) {
  $("says").className = how;
  $("says").textContent = words;
}

// Enter keeps a line and goes on. What needs a second look is asked about, and a second Enter keeps it.
async function enter(row, point) {
  const { text, note } = parted(row);
  const whole = fieldOf(row).value.trim();
  if (!whole || row.dataset.kept === whole) return next(row, 1);
  const other = OTHER.get(text.toLowerCase());
  const read = other ? null : now.session.reads(text, point);
  if (!text) return told(row, "warn", "Type the reading before the semicolon; n: could not be reached, c: looks cracked.");
  if (read?.problem) return told(row, "warn", read.words);
  const verdict = other ? null : now.session.judges(read.value, point);
  const asks = other?.kind === "cracked" ? "" : asked(row, verdict); // a crack stands beside any reading
  if (asks && row.dataset.asked !== whole) {
    row.dataset.asked = whole;
    return told(row, verdict?.as === IMPOSSIBLE ? "bad" : "warn", `${other ? "" : `${read.words}. `}${asks}`);
  }
  try {
    if (other) await now.session.keepOther(other.kind, point, about(), note);
    else await now.session.keepReading(point, text, about(), verdict, noteOf(verdict, note));
  } catch (error) {
    return told(row, "bad", `NOT kept (${error?.message ?? error}). Press Enter again.`);
  }
  row.dataset.kept = whole;
  next(row, 1); // before anything is waited for: the next key is the next line's
  await sending.show(); // what is said to be kept is never said to be sent already
  const [how, words] = other ? ["told", other.kept] : now.session.answers(verdict, point);
  told(row, how, other ? words : `${read.words}. ${words}`);
  return sending.now(); // the line was left before: the next reading is not held up by a slow server
}

function asked(row, verdict) {
  const before = row.dataset.kept ?? row.dataset.before;
  const twice = before ? `${before} is kept for this line already. Enter again keeps this one beside it.` : "";
  if (verdict?.as === IMPOSSIBLE) {
    return "This cannot be right. Compare it with the sheet; Enter again keeps it with the word: written so on the sheet.";
  }
  if (verdict?.as === FAR) return `Far from what was expected. Compare it with the sheet; Enter again keeps it. ${twice}`.trim();
  return twice;
}

const noteOf = (verdict, note) => [verdict.as === IMPOSSIBLE ? "written so on the sheet" : "", note].filter(Boolean).join("; ");

// ---- sheets, engines, the picture beside

function showEmpty(words) {
  now.session = null;
  $("desk").hidden = true;
  $("empty").hidden = false;
  $("why").textContent = words;
}

// The code on a sheet leads to its engine and its lines, whatever is shown now.
async function goToSheet() {
  const code = $("code").value.trim();
  if (!code || now.sheet?.code === code.toUpperCase()) return;
  try {
    now.sheet = await send.sheet(code);
  } catch (error) {
    if (send.isOut(error)) return sending.out(error.message);
    return say("warn", error instanceof send.Refused ? error.message : "There is no connection: find each line by its name.");
  }
  if (now.session?.round.vehicle !== now.sheet.vehicle) {
    $("vehicle").value = now.sheet.vehicle;
    await load(now.sheet.vehicle);
    if (!now.session) return;
  } else {
    offerLines(now.sheet.code);
    arrange();
  }
  const there = now.sheet.points.filter((name) => now.session.byName.has(name)).length;
  const gone = now.sheet.points.length - there;
  return say("told", `Sheet ${now.sheet.code} of ${now.sheet.vehicle}: ${there} lines.${gone ? ` ${gone} more are no longer on record.` : ""}`);
}

async function onCode(event) {
  if (event.key !== "Enter") return;
  event.preventDefault();
  await goToSheet();
  if (now.sheet && now.sheet.code === $("code").value.trim().toUpperCase()) $("rows").querySelector("tbody input")?.focus();
}

function showScan() {
  const file = $("scan").files[0];
  if (!file) return;
  if (now.scan) URL.revokeObjectURL(now.scan);
  now.scan = URL.createObjectURL(file);
  $("sheet-image").src = now.scan;
  $("sheet-picture").hidden = false;
  $("desk").classList.add("beside");
}

function showDoubt() {
  $("odometer-doubt").textContent = now.session ? odometerDoubt($("odometer").value, now.session.round.odometer) : "";
}

async function load(vehicle) {
  const kept = await keptRound(vehicle);
  try {
    now.session = new Session(await send.round(vehicle));
  } catch (error) {
    if (send.isOut(error)) return sending.out(error.message);
    if (error instanceof send.Refused) return showEmpty(error.message);
    if (!kept) return showEmpty("There is no connection. Load the page again when there is one.");
    now.session = new Session(kept);
  }
  if (now.sheet?.vehicle !== vehicle) now.sheet = null;
  if (now.engine && now.engine !== vehicle) $("odometer").value = ""; // it was that of another engine
  now.engine = vehicle;
  $("desk").hidden = false;
  $("empty").hidden = true;
  showDoubt();
  return build();
}

async function start() {
  applyTheme();
  $("date").value = today();
  $("date").max = today();
  $("observer").value = await keep.fact("observer");
  $("code").addEventListener("change", goToSheet);
  $("code").addEventListener("keydown", onCode);
  $("scan").addEventListener("change", showScan);
  $("sent").addEventListener("click", sending.now);
  $("vehicle").addEventListener("change", () => load($("vehicle").value));
  $("lines").addEventListener("change", arrange);
  $("date").addEventListener("change", showNoted);
  $("odometer").addEventListener("input", showDoubt);
  sending.watch();
  try {
    const listed = (await send.vehicles()).vehicles;
    const asked = new URLSearchParams(location.search);
    offer($("vehicle"), asChoices(listed), asked.get("vehicle"));
    $("code").value = asked.get("code") ?? "";
    if (listed.length) await load($("vehicle").value);
    else showEmpty("Nothing is measured on any vehicle yet.");
  } catch (error) {
    showEmpty(error instanceof send.Refused ? error.message : "There is no connection.");
  }
  document.body.dataset.ready = "yes";
  if (now.session) {
    $("code").focus();
    await goToSheet();
  }
  await sending.now();
}

start();
