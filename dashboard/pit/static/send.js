// Entries on their way to the server, and what comes down from it. Sending twice changes nothing there.

import * as keep from "./keep.js";

export const OFFLINE = "offline", SIGN_IN = "sign in", SENT = "sent", TROUBLE = "trouble";
const AT_ONCE = 100;
const AGAIN_MS = 15000;
const DAY_MS = 24 * 3600 * 1000;
const FIELDS = ["id", "kind", "point", "date", "value", "unit", "odometer", "gauge", "observer", "note"];

export class Refused extends Error {
  constructor(status, words) {
    super(words);
    this.status = status;
  }
}

async function answerOf(address, more = {}) {
  const answer = await fetch(address, { credentials: "same-origin", cache: "no-store", ...more });
  if (answer.ok) return answer.json();
  let words = `The server answered ${answer.status}.`;
  try {
    const text = await answer.text();
    words = text.startsWith("{") ? JSON.parse(text).problem : text.trim() || words;
  } catch { /* the number says it */ }
  throw new Refused(answer.status, words);
}

export const vehicles = () => answerOf("./api/vehicles");
export const sheet = (code) => answerOf(`./api/lines?code=${encodeURIComponent(code)}`);

export async function round(vehicle) {
  const told = await answerOf(`./api/round?vehicle=${encodeURIComponent(vehicle)}`);
  // By this phone's clock, whatever it shows.
  const ends = told.until ? Date.now() + (told.until - told.now) * 1000 : 0;
  const round = { ...told, ends };
  await keep.put("rounds", round);
  return round;
}

export const isOut = (error) => error instanceof Refused && (error.status === 401 || error.status === 403);
let sending = null, asked = false;

// Send what waits; one sending at a time, which goes on for what is asked for meanwhile. What it came to, and the
// words of a problem.
export function send() {
  asked = true;
  sending ??= sendAll();
  return sending;
}

// Sending as a page does it: at once when something was kept, and whenever there may be a connection again.
// `show` is told how many entries and pictures wait, what sending came to and how many of a day are held back; `out` the words of a sign-in that ended.
export class Sending {
  #came = SENT;
  #show;
  #out;

  constructor(show, out) {
    this.#show = show;
    this.#out = out;
  }

  now = async () => {
    await this.show();
    const { came, words } = await send();
    this.#came = came;
    if (came === SIGN_IN) await this.out(words);
    await this.show();
  };

  async show() {
    const held = (await keep.all("entries")).filter((each) => each.said?.verdict === "held back");
    const lately = held.filter((each) => each.at > Date.now() - DAY_MS).length;
    this.#show((await waitingEntries()).length, (await keep.all("pictures")).length, this.#came, lately);
  }

  // The sign-in has ended: what the server gave goes, what was noted stays and is counted.
  async out(words) {
    await forget();
    const count = (await waitingEntries()).length;
    this.#out(`${words}${count ? ` ${count} noted here ${count > 1 ? "wait and are" : "waits and is"} sent after that.` : ""}`);
  }

  watch() {
    globalThis.addEventListener("online", this.now);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.now(); });
    setInterval(this.now, AGAIN_MS);
  }
}

async function sendAll() {
  try {
    while (asked) {
      asked = false;
      await sendEntries();
      await sendPictures();
    }
    return { came: SENT, words: "" };
  } catch (error) {
    if (isOut(error)) return { came: SIGN_IN, words: error.message };
    if (error instanceof Refused) return { came: TROUBLE, words: error.message };
    return { came: OFFLINE, words: "" };
  } finally {
    sending = null; // nothing comes between: what is asked for from now on is a sending of its own
  }
}

async function sendEntries() {
  for (;;) {
    const waiting = await waitingEntries();
    if (!waiting.length) return;
    await sendSome(waiting.slice(0, AT_ONCE));
    if ((await waitingEntries()).length >= waiting.length) return; // those left were refused one by one
  }
}

export async function waitingEntries() {
  const kept = await keep.all("entries");
  return kept.filter((each) => each.state === "waiting").sort((a, b) => a.at - b.at);
}

async function sendSome(entries) {
  try {
    await sendThese(entries);
  } catch (error) {
    if (!(error instanceof Refused) || error.status !== 400 || entries.length === 1) {
      if (error instanceof Refused && error.status === 400) {
        await keep.put("entries", { ...entries[0], problem: error.message });
        return;
      }
      throw error;
    }
    for (const entry of entries) await sendSome([entry]); // one that will not do must not hold up the others
  }
}

async function sendThese(entries) {
  const body = JSON.stringify({
    entries: entries.map((entry) => Object.fromEntries(FIELDS.map((name) => [name, entry[name] ?? ""]))),
  });
  const told = await answerOf("./api/entries", {
    method: "POST", headers: { "Content-Type": "application/json" }, body,
  });
  const answered = told.entries.filter((each) => entries.some((entry) => entry.id === each.id));
  await keep.confirm(answered.filter((each) => each.verdict !== "refused"));
  for (const each of answered.filter((one) => one.verdict === "refused")) await keep.renumber(each.id, keep.newId());
}

async function sendPictures() {
  for (const picture of await keep.all("pictures")) {
    if (asked) return; // what was noted meanwhile goes first
    if (picture.problem) continue;
    const about = new URLSearchParams({ id: picture.id, point: picture.point, date: picture.date,
      observer: picture.observer, note: picture.note ?? "" });
    try {
      await answerOf(`./api/pictures?${about}`, {
        method: "POST", headers: { "Content-Type": "image/jpeg" }, body: picture.content,
      });
      await keep.drop("pictures", picture.id);
    } catch (error) {
      if (!(error instanceof Refused) || error.status !== 400) throw error;
      await keep.put("pictures", { ...picture, problem: error.message });
    }
  }
}

// What the phone was given ends with the sign-in; what was noted on it stays until it is sent.
export async function endOld() {
  for (const round of await keep.all("rounds")) {
    if (round.ends && Date.now() > round.ends) await forget();
  }
}

export async function forget() {
  await keep.clear("rounds");
  for (const entry of await keep.all("entries")) {
    if (entry.state !== "waiting") await keep.drop("entries", entry.id);
  }
}
