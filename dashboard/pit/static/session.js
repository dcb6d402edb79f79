// One round at one engine: what phone and desk have in common. It knows no element of a page.

import { FAR, FITS, IMPOSSIBLE, UNTOLD, judged, readFor, shown } from "./judge.js";
import * as keep from "./keep.js";
import { Notation } from "./notation.js";
import * as send from "./send.js";

export class Session {
  constructor(round) {
    this.round = round;
    this.notation = new Notation(round.rules);
    this.points = round.points;
    this.byName = new Map(this.points.map((point) => [point.point, point]));
  }

  // How a text is read: { value, unit, problem, words }
  reads(text, point) {
    if (!text.trim()) return { value: null, problem: "", words: "" };
    const read = readFor(this.notation, text.trim(), point);
    if (read.problem) return { ...read, words: read.problem };
    const other = read.unit === point.unit ? this.#beside(read, point) : shown(read.value, point.unit);
    return { ...read, words: `${shown(read.typed, read.unit)}${other ? ` = ${other}` : ""}` };
  }

  #beside(read, point) {
    if (!Object.hasOwn(this.round.rules.lengths, point.unit)) return "";
    const unit = point.unit === "mm" ? "in" : "mm";
    return shown((read.value * this.notation.per(point.unit)) / this.notation.per(unit), unit);
  }

  judges(value, point) {
    return judged(value, point);
  }

  // What a judged reading is answered: class and words; nothing green unless it fits and is within its limit.
  answers({ state, as }, point) {
    const limit = point.limit ? ` The limit is ${point.limit}.` : "";
    if (as === IMPOSSIBLE) return ["bad", "Kept as it stands. It will be held back until somebody has looked."];
    if (state === "past") return ["bad", `Kept. At its condemning limit or past it: it may not run.${limit}`];
    if (as === FAR) return ["warn", "Kept. Far from what was expected: read it again, both are kept."];
    if (state === "shop") {
      return ["told", `Kept.${as === FITS ? " Fits." : ""} Past the shop limit, not past the condemning limit.${limit}`];
    }
    if (as === FITS && state === "within") return ["good", "Kept. Fits."];
    if (as === UNTOLD) return ["told", "Kept. Nothing is expected of it yet, so nothing is said."];
    return ["told", "Kept. Fits what was expected; no limit is on record."];
  }

  mayMoveOn({ state, as }) {
    return (as === FITS || as === UNTOLD) && state !== "past";
  }

  async keepReading(point, text, about, verdict, note) {
    const entry = this.#entry("reading", point, about, note);
    entry.value = text.trim();
    entry.as = verdict.as;
    entry.state_of_value = verdict.state;
    await keep.keepEntry(entry);
    return entry;
  }

  async keepOther(kind, point, about, note) {
    const entry = this.#entry(kind, point, about, note);
    await keep.keepEntry(entry);
    return entry;
  }

  #entry(kind, point, about, note) {
    return {
      id: keep.newId(), kind, vehicle: this.round.vehicle, point: point.point, where: point.where, what: point.what,
      date: about.date || today(), value: "", unit: point.unit, odometer: odometer(about.odometer, this.round.odometer.unit),
      gauge: about.gauge ?? "", observer: about.observer ?? "", note: (note ?? "").trim(), at: Date.now(),
      state: "waiting",
    };
  }
}

// What speaks against an odometer figure, or against none; empty where nothing does.
export function odometerDoubt(figure, its) {
  const text = (figure ?? "").replaceAll(/[ ,]/g, "");
  if (!text) return its.needed ? "Without a figure the readings are held back: the log cannot tell it for today." : "";
  const number = Number(text);
  if (!(number >= 0)) return "This is no figure.";
  const below = its.least !== null && number < its.least, above = its.most !== null && number > its.most;
  return below || above ? "This does not fit its last entry: readings with it are held back until somebody has looked." : "";
}

export function today() {
  const now = new Date();
  const two = (number) => String(number).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

function odometer(figure, unit) {
  const text = (figure ?? "").replaceAll(/[ ,]/g, "");
  return text ? `${text} ${unit}` : "";
}

// The round of an engine: the one that the phone has, at once; the server's in its place as soon as it comes.
export async function keptRound(vehicle) {
  await send.endOld();
  const rounds = await keep.all("rounds");
  return rounds.find((each) => each.vehicle === vehicle) ?? null;
}

export function saysOf(entry) {
  if (entry.state === "taken out") return ["told", "Taken out: it is not sent."];
  if (entry.state === "waiting") return ["warn", entry.problem ? `Not taken: ${entry.problem}` : "On this phone, not yet sent."];
  const said = entry.said;
  const read = said.others?.join("; ");
  if (said.verdict === "held back") {
    const beside = read ? ` That day there is also ${read}: read it again if you can.` : "";
    return ["bad", `Held back, not lost: somebody decides on the dashboard.${beside} Why: ${said.reasons}.`];
  }
  const others = read ? ` Others on that day: ${read}. Both stand as they are.` : "";
  const far = said.again ? " Far from what was expected: read it again." : "";
  const batch = said.batch ? ` as batch ${said.batch}, which can be undone on the dashboard` : "";
  const told = said.verdict === "accepted" ? `Sent and stored${batch}.` : "Sent; it was stored before.";
  return [others || far ? "warn" : "good", `${told}${far}${others}`];
}
