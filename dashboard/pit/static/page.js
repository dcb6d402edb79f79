// The page at the engine: a keypad, one wear point at a time, in walking order.

import { IMPOSSIBLE } from "./judge.js";
import { drawInto, markPlaces } from "./drawing.js";
import * as keep from "./keep.js";
import { shrunk } from "./photo.js";
import * as send from "./send.js";
import { DUE, applyTheme, asChoices, choicesOf, offer, showWaiting, turnTheme } from "./both.js";
import { Session, keptRound, odometerDoubt, saysOf, today } from "./session.js";

const $ = (id) => document.getElementById(id);
const now = { session: null, at: 0, text: "", note: "", about: {}, done: new Set(), places: new Set(), doubt: null };
const sending = new send.Sending(showWaiting($("sent")), signedOut);
const ABOUT = ["observer", "gauge", "odometer"];

// ---- the wear point that is read

const points = () => now.session.points;
const point = () => points()[now.at];
const chosen = () => keep.remembered("round") || DUE;
// The wear points of this round, in walking order: what is due, or all; all too where nothing is due.
function round() {
  const due = chosen() === DUE ? points().filter((each) => each.due) : [];
  return due.length ? due : points();
}
const isDone = () => round().every((each) => now.done.has(each.point));

function goTo(place, { keepSays = false } = {}) {
  now.at = (place + points().length) % points().length;
  now.note = "";
  $("note").value = "";
  type("");
  keep.remember("point", point().point);
  if (!keepSays) say("", "");
  show();
}

function step(by) {
  const walked = new Set(round());
  let next = now.at;
  for (let tried = 0; tried < points().length; tried += 1) {
    next = (next + by + points().length) % points().length;
    if (walked.has(points()[next])) break;
  }
  return next;
}

function place() {
  const walked = round(), at = walked.indexOf(point());
  if (at < 0) return "beside this round";
  return `${at + 1} of ${walked.length}${walked.length < points().length ? " due" : ""}`;
}

function show() {
  const its = point();
  $("where").textContent = `${place()} · ${its.where}${now.done.has(its.point) ? " · read today" : ""}`;
  $("what").textContent = its.what;
  $("due").textContent = its.due;
  markPlaces($("map"), its.place, now.places);
  markPlaces($("big-map"), its.place, now.places);
  showUnits();
}

function say(how, words) {
  $("says").className = how;
  $("says").textContent = words;
}

// ---- what is typed

function type(text) {
  now.text = text;
  keep.remember("draft", JSON.stringify({ vehicle: now.session?.round.vehicle, point: point()?.point, text }));
  $("typed").textContent = text;
  const read = now.session.reads(text, point());
  $("read").classList.toggle("unread", read.problem !== "");
  $("read").textContent = read.problem === "" && read.words ? `reads ${read.words}` : text.trim() ? read.words : "";
  $("keep").disabled = false;
}

function press(key) {
  if ($("says").textContent) say("", "");
  if (key === "⌫") type([...now.text].slice(0, -1).join(""));
  else if (key === "␣") type(now.text && !now.text.endsWith(" ") ? `${now.text} ` : now.text);
  else if (now.text.length < 80) type(now.text + key);
}

function pressUnit(unit) {
  const bare = now.text.replace(/ *(in|thou|mm|64ths|%|[a-z°]+)$/i, "").trimEnd();
  if (bare) type(`${bare} ${unit}`);
}

const KEYS = ["7", "8", "9", "⌫", "4", "5", "6", "/", "1", "2", "3", "␣", "0", ".", ",", "-"];
const SPOKEN = { "⌫": "take back", "/": "stroke of a fraction", "␣": "space", ".": "point", ",": "comma", "-": "minus" };

function buildKeys() {
  for (const key of KEYS) $("keys").append(keyOf(key, SPOKEN[key] ?? key, () => press(key)));
}

function keyOf(text, spoken, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = text;
  made.setAttribute("aria-label", spoken);
  made.addEventListener("click", act);
  return made;
}

function showUnits() {
  for (const old of $("keys").querySelectorAll(".unit")) old.remove();
  for (const unit of point().units) {
    const written = unit === "1/64 in" ? "64ths" : unit;
    const made = keyOf(written, `unit ${written}`, () => pressUnit(written));
    made.className = "unit";
    $("keys").append(made);
  }
}

// ---- keeping

async function keepTyped() {
  const read = now.session.reads(now.text, point());
  // A second tap must not wipe away what was said of the reading just kept.
  if (!now.text.trim()) return $("says").textContent || say("told", "Type what the gauge shows.");
  if (read.problem) return say("warn", "This cannot be read as a value yet: see above.");
  const verdict = now.session.judges(read.value, point());
  if (verdict.as === IMPOSSIBLE) return doubt(read);
  return keepNow(verdict, now.note);
}

async function keepNow(verdict, note) {
  const its = point();
  try {
    await now.session.keepReading(its, now.text, now.about, verdict, note);
  } catch (error) {
    return say("bad", `NOT kept: ${roomWords(error)} What you typed is still here.`);
  }
  noteDone(its);
  const [how, words] = now.session.answers(verdict, its);
  const moves = now.session.mayMoveOn(verdict);
  const typed = `${moves ? `${its.where}, ${its.what}: ` : ""}${now.text.trim()}`;
  const end = isDone() ? " That was the last of this round." : "";
  if (moves) goTo(step(1), { keepSays: true }); // before anything is waited for: the next key is the next reading's
  else { type(""); show(); }
  await sending.show(); // what is said to be kept is never said to be sent already
  say(how, `${typed}. ${words}${end}`);
  sending.now(); // not waited for: the next reading is not held up by a slow server
}

function roomWords(error) {
  return error?.name === "QuotaExceededError"
    ? "this phone has no room left. Free some, then press Keep again."
    : `this phone could not store it (${error?.message ?? error}). Press Keep again.`;
}

function noteDone(its) {
  now.done.add(its.point);
  const open = points().filter((each) => each.place === its.place && !now.done.has(each.point));
  if (!open.length) now.places.add(its.place);
}

function doubt(read) {
  const its = point();
  const span = its.lowest !== null && its.highest !== null
    ? ` This point can be from ${Number(Math.max(0, its.lowest).toPrecision(4))} to ${Number(its.highest.toPrecision(4))} ${its.unit}.` : "";
  $("doubt-says").textContent = `${read.words}.${span} Is it the right place, unit and decimal point?`;
  $("doubt-why").value = "";
  say("bad", "Not kept: this cannot be right.");
  now.doubt = now.session.judges(read.value, its);
  $("doubt-box").showModal();
}

async function keepDoubted() {
  const why = $("doubt-why").value.trim() || "read twice, it stands";
  $("doubt-box").close();
  await keepNow(now.doubt, [why, now.note].filter(Boolean).join("; "));
}

async function keepOther(kind, words) {
  const its = point();
  try {
    await now.session.keepOther(kind, its, now.about, $("note").value);
  } catch (error) {
    return say("bad", `NOT kept: ${roomWords(error)}`);
  }
  $("more-box").close();
  if (kind === "not reached") goTo(step(1), { keepSays: true });
  await sending.show();
  say("told", `${its.where}, ${its.what}: ${words}`);
  sending.now(); // not waited for: the next reading is not held up by a slow server
}

async function keepPhoto() {
  const file = $("photo").files[0];
  $("photo").value = "";
  if (!file) return;
  $("more-box").close();
  const its = point();
  const content = await shrunk(file).catch(() => null);
  if (!content) return say("bad", "The photo is NOT kept: this is no picture that can be drawn here. Take it again.");
  try {
    await keep.put("pictures", { id: keep.newId(), point: its.point, date: today(), observer: now.about.observer ?? "",
      note: $("note").value.trim(), content });
  } catch (error) {
    return say("bad", `The photo is NOT kept: ${roomWords(error)}`);
  }
  await sending.show();
  say("told", `Photo of ${its.where}, ${its.what} kept: ${Math.ceil(content.size / 1024)} KB, without place and device.`);
  sending.now();
}

// ---- what was sent

function signedOut(words) {
  now.session = null;
  showEmpty(words, true);
}

async function listNoted() {
  const kept = (await keep.all("entries")).sort((a, b) => b.at - a.at);
  $("noted").replaceChildren(...kept.map((entry) => {
    const line = document.createElement("li");
    const what = { reading: entry.value, "not reached": "could not be reached", cracked: "looks cracked" }[entry.kind];
    const head = document.createElement("strong");
    head.textContent = `${entry.where}, ${entry.what}: ${what}`;
    const [how, words] = saysOf(entry);
    const says = document.createElement("p");
    says.className = how;
    says.textContent = words;
    line.append(head, says);
    if (entry.state === "waiting") line.append(takeOut(entry));
    return line;
  }));
  if (!kept.length) $("noted").textContent = "Nothing yet.";
  if (!$("list-box").open) $("list-box").showModal();
}

function takeOut(entry) {
  const made = keyOf("Typed wrong: take it out", `Take out ${entry.where}, ${entry.what}`, async () => {
    await keep.takeOut(entry.id); // what was sent meanwhile stays, and the list says so
    await sending.show();
    await listNoted();
  });
  return made;
}

// ---- beginning

function showEmpty(words, signIn = false) {
  $("take").hidden = true;
  $("empty").hidden = false;
  $("why").textContent = words;
  $("sign-in").hidden = !signIn;
}

async function use(given) {
  await keep.setFact("vehicle", given.vehicle);
  const kept = await keep.all("entries");
  // From here on nothing is waited for: a key pressed meanwhile is neither lost nor undone.
  const same = now.session?.round.vehicle === given.vehicle;
  const where = same ? point().point : keep.remembered("point");
  now.session = new Session(given);
  const first = round()[0].point;
  now.at = points().findIndex((each) => each.point === (now.session.byName.has(where) ? where : first));
  now.done = new Set();
  now.places = new Set();
  for (const entry of kept) {
    const its = now.session.byName.get(entry.point);
    if (its && entry.date === today() && entry.state !== "taken out") noteDone(its);
  }
  $("engine").textContent = given.vehicle;
  for (const box of ["map", "big-map"]) drawInto($(box), given.scene, pickPlace);
  $("take").hidden = false;
  $("empty").hidden = true;
  const draft = JSON.parse(keep.remembered("draft") || "{}");
  const left = draft.vehicle === given.vehicle && draft.point === point().point ? (draft.text ?? "") : "";
  type(same && point().point === where ? now.text : left);
  show();
}

function pickPlace(key) {
  const first = points().findIndex((each) => each.place === key);
  if (first >= 0) goTo(first);
  $("map-box").close();
}

async function load(vehicle) {
  const kept = await keptRound(vehicle);
  if (kept) await use(kept);
  else showEmpty("Fetching the round of this engine …");
  try {
    await use(await send.round(vehicle)); // the round is replaced under what is being typed
  } catch (error) {
    if (error instanceof send.Refused) {
      if (send.isOut(error)) await sending.out(error.message);
      else if (!kept) showEmpty(error.message);
    } else if (!kept) {
      showEmpty("There is no connection, and this phone has no round of that engine yet. Open the page once where there is one.");
    }
  }
}

async function showSetup() {
  for (const name of ABOUT) $(name).value = now.about[name] ?? "";
  await listVehicles();
  if (now.session) offer($("places"), choicesOf(points()), chosen());
  aboutRound();
  $("setup-box").showModal();
}

async function listVehicles() {
  let listed = await keep.all("rounds");
  try {
    listed = (await send.vehicles()).vehicles;
  } catch (error) {
    if (send.isOut(error)) await sending.out(error.message);
  }
  offer($("vehicle"), asChoices(listed), await keep.fact("vehicle"));
  return listed;
}

function aboutRound() {
  const given = now.session?.round;
  if (!given) return;
  $("odometer-label").textContent = `Odometer, as the instrument shows it [${given.odometer.unit}]`;
  $("odometer-last").textContent = `Its last entry: ${given.odometer.last}.`;
  $("odometer-doubt").textContent = odometerDoubt($("odometer").value, given.odometer);
  $("gauges").replaceChildren(...given.gauges.map((each) => {
    const made = document.createElement("option");
    made.value = each.gauge;
    made.label = each.instrument;
    return made;
  }));
  const gauge = $("gauge").value.trim();
  const known = given.gauges.find((each) => each.gauge === gauge);
  $("certificate").textContent = !gauge ? "" : known ? `${known.instrument || known.gauge}: ${known.says}.` : "This gauge is not on record.";
  $("https").textContent = globalThis.isSecureContext
    ? "" : "Without HTTPS the browser keeps no page for offline use: stay on this page, or ask for an https address.";
}

// An odometer is that of one engine on one day.
const odometerOf = () => `${now.session?.round.vehicle} ${today()}`;

async function toEngine() {
  $("odometer").value = now.about.odometer = "";
  await load($("vehicle").value);
  if (now.session) offer($("places"), choicesOf(points()), chosen());
  aboutRound();
}

async function begin(event) {
  event.preventDefault(); // the box stays until the phone has kept it, so that no reload asks again
  for (const name of ABOUT) {
    now.about[name] = $(name).value.trim();
    await keep.setFact(name, now.about[name]);
  }
  await keep.setFact("odometer-of", odometerOf());
  keep.remember("round", $("places").value || DUE);
  if (now.session && !round().includes(point())) goTo(step(1));
  $("setup-box").close();
  if (now.session) show();
}

function listen() {
  $("back").addEventListener("click", () => goTo(step(-1)));
  $("forth").addEventListener("click", () => goTo(step(1)));
  $("keep").addEventListener("click", () => busy(keepTyped));
  $("more").addEventListener("click", () => { $("note").value = now.note; $("more-box").showModal(); });
  $("more-box").addEventListener("close", () => { now.note = $("note").value.trim(); });
  $("unreached").addEventListener("click", () => busy(() => keepOther("not reached", "could not be reached.")));
  $("cracked").addEventListener("click", () => busy(() => keepOther("cracked", "looks cracked: kept as a finding. Tell who runs the shop.")));
  $("photo").addEventListener("change", () => busy(keepPhoto));
  $("show-map").addEventListener("click", () => { $("more-box").close(); $("map-box").showModal(); });
  $("show-list").addEventListener("click", () => { $("more-box").close(); listNoted(); });
  $("sent").addEventListener("click", () => { sending.now(); listNoted(); });
  $("stands").addEventListener("click", () => busy(keepDoubted));
  $("setup").addEventListener("click", showSetup);
  for (const name of ["gauge", "odometer"]) $(name).addEventListener("input", aboutRound);
  $("theme").addEventListener("click", turnTheme);
  $("begin").addEventListener("click", begin);
  $("vehicle").addEventListener("change", toEngine);
  document.addEventListener("keydown", typedOnKeys);
  sending.watch();
}

// One thing at a time: a second tap while the first is being kept does nothing.
let working = false;
async function busy(work) {
  if (working || !now.session) return;
  working = true;
  try { await work(); } finally { working = false; }
}

// A keyboard types wherever the focus is; Enter and space on a button are the button's own.
function typedOnKeys(event) {
  if (!now.session || document.querySelector("dialog[open]") || event.ctrlKey || event.metaKey || event.altKey) return;
  const button = event.target.tagName === "BUTTON" && (event.key === "Enter" || event.key === " ");
  if (button) return;
  if (event.key === "Enter") { event.preventDefault(); busy(keepTyped); }
  else if (event.key === "Backspace") press("⌫");
  else if (event.key.length === 1) { event.preventDefault(); press(event.key === " " ? "␣" : event.key); }
}

async function start() {
  applyTheme();
  buildKeys();
  listen();
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("./worker.js").catch(() => {});
  navigator.storage?.persist?.();
  for (const name of ABOUT) now.about[name] = await keep.fact(name);
  const asked = new URLSearchParams(location.search).get("vehicle");
  const vehicle = asked || (await keep.fact("vehicle")) || (await listVehicles())[0]?.vehicle;
  if (vehicle) await load(vehicle);
  else if (!$("why").textContent) showEmpty("Nothing is measured on any vehicle yet, or there is no connection.");
  if ((await keep.fact("odometer-of")) !== odometerOf()) now.about.odometer = "";
  if (now.session && !now.about.observer) await showSetup();
  document.body.dataset.ready = "yes";
  await sending.now();
}

start();
