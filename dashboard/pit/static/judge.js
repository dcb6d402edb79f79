// What a value says of its wear point, once it is typed: against limits, and against what was expected, which
// is known here only as marks that answer for a number.

export const FITS = "fits", FAR = "far", IMPOSSIBLE = "impossible", UNTOLD = "untold";

// A comma typed at the engine marks decimals: nobody types thousands there.
export function decimalOf(text) {
  return text.includes(",") && !text.includes(".") ? "," : ".";
}

// value in the wear point's own unit, the unit it was typed in, or the problem
export function readFor(notation, text, point) {
  const read = notation.read(text, point.unit, decimalOf(text));
  if (read.problem) return { value: null, unit: "", typed: null, problem: read.problem };
  const unit = read.unit || point.unit;
  const value = (read.value * notation.per(unit)) / notation.per(point.unit);
  return { value, typed: read.value, unit, problem: "" };
}

// implausible, past, shop, within or unknown
export function stateOf(value, point) {
  const { condemning, shop, lowest, highest } = point;
  if ((lowest !== null && value < lowest) || (highest !== null && value > highest)) return "implausible";
  if (point.new === null || condemning === null || point.new === condemning) return "unknown";
  const slack = point.slack * Math.abs(condemning - point.new);
  const toward = Math.sign(condemning - point.new);
  const left = toward * (condemning - value);
  if (left < -slack || (left <= slack && !point.beyond)) return "past";
  return shop !== null && toward * (value - shop) > slack ? "shop" : "within";
}

export function judged(value, point) {
  const state = stateOf(value, point);
  if (state === "implausible") return { state, as: IMPOSSIBLE };
  if (!point.sealed) return { state, as: UNTOLD };
  const cell = Math.floor((value - point.sealed.from) / point.sealed.width);
  return { state, as: point.sealed.marks.includes(mark(point.sealed.word, cell)) ? FITS : FAR };
}

// FNV-1a of 32 bits over number and word, as the server marks cells
export function mark(word, cell) {
  let value = 0x811c9dc5;
  for (const byte of new TextEncoder().encode(`${cell}:${word}`)) value = Math.imul(value ^ byte, 0x01000193) >>> 0;
  return value;
}

// A value as people read it: at most four figures behind the point, parts of an inch as a count.
export function shown(value, unit) {
  const number = Number(value.toPrecision(12));
  const digits = unit === "in" ? 4 : 3;
  const text = String(Number(number.toFixed(digits)));
  return unit.startsWith("1/") && unit.endsWith(" in") ? `${text}${unit.slice(1)}` : `${text} ${unit}`;
}
