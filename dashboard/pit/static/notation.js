// Reads one measurement as people write it. Every pattern, word and unit comes from the server, which reads
// by the same ones; here is only what is done with them, in the same order.

export class Notation {
  constructor(rules) {
    this.rules = rules;
    const whole = (pattern) => new RegExp(`^(?:${pattern})$`, "us");
    this.plain = whole(rules.plain);
    this.grammar = new RegExp(rules.grammar, "us");
    this.spelled = rules.spelled.map(([pattern, put]) => [new RegExp(pattern, "gu"), put]);
    this.oddMarks = rules.odd_marks.map(([pattern, put]) => [new RegExp(pattern, "gu"), put]);
    this.marks = rules.marks.map(([pattern, put]) => [new RegExp(pattern, "gu"), put]);
    this.refusals = rules.refusals.map(([pattern, words]) => [whole(pattern), words]);
  }

  // value and unit as written ("" if none), or the problem. `beside`: unit of a bare number.
  read(cell, beside = "", decimal = ".") {
    const found = this.#written(cell, decimal);
    const unit = found.written ? (this.unitOf(found.written) ?? "") : "";
    const known = { ...found, unit, beside: this.unitOf(beside) ?? "" };
    const problem = found.problem || this.#problemOfUnit(cell, known);
    return problem ? { value: null, unit: "", problem } : { value: found.value, unit, problem: "" };
  }

  // Canonical name of a unit as people write it; null where it can be none.
  unitOf(text) {
    const folded = this.#foldedUnit(text);
    if (!folded) return null;
    if (Object.hasOwn(this.rules.units, folded)) return this.rules.units[folded];
    const unprintable = /[\p{C}\p{Z}]/u.test(folded.replaceAll(" ", ""));
    const none = [...folded].length > this.rules.longest_unit || /^[-+.]?[0-9]/.test(folded) || unprintable;
    return none ? null : folded;
  }

  base(unit) {
    return this.rules.bases[unit] ?? unit;
  }

  // Base units in one unit.
  per(unit) {
    return this.rules.lengths[unit] ?? this.rules.distances[unit] ?? 1;
  }

  #written(cell, decimal) {
    const nothing = { value: null, written: "", feet: false, fraction: false, problem: "" };
    const longest = this.rules.longest;
    const characters = [...cell];
    if (decimal === "." && characters.length <= longest && this.plain.test(cell)) {
      return { ...nothing, value: Number(cell) };
    }
    const folded = this.#fold(characters.slice(0, longest + 1).join(""), decimal);
    const part = this.grammar.exec(folded)?.groups ?? {};
    const figure = (name) => (part[name] ? Number(part[name].replaceAll(",", "")) : NaN);
    const [feet, top, bottom, decimals] = ["feet", "top", "bottom", "decimal"].map(figure);
    const whole = figure("whole");
    const amount = Number.isNaN(decimals) ? (Number.isNaN(whole) ? 0 : whole) + top / bottom : decimals;
    const problem = this.#problem(cell, folded, characters.length > longest, { feet, whole, top, bottom, amount });
    if (problem) return { ...nothing, problem };
    const hasFeet = !Number.isNaN(feet);
    const hasInches = !(Number.isNaN(decimals) && Number.isNaN(bottom));
    let value = hasInches ? (hasFeet ? 12 * feet + amount : amount) : feet;
    if ((part.sign ?? "").startsWith("-")) value = -value;
    const written = (part.unit ?? "").trim() || (hasFeet ? (hasInches ? "in" : "ft") : "");
    return { value, written, feet: hasFeet, fraction: !Number.isNaN(bottom), problem: "" };
  }

  #problem(cell, folded, tooLong, { feet, whole, top, bottom, amount }) {
    const words = this.rules.words;
    const hasFeet = !Number.isNaN(feet);
    if (tooLong) return filled(words["too long"], cell);
    if (bottom === 0) return filled(words["by 0"], cell);
    if (!Number.isNaN(whole) && top >= bottom) return filled(words["not below 1"], cell);
    if (hasFeet && amount >= 12) return filled(words["not feet and inches"], cell);
    if (!Number.isNaN(amount) || hasFeet) return "";
    const lower = folded.toLowerCase();
    const refusal = this.refusals.find(([pattern]) => pattern.test(lower));
    return refusal ? filled(refusal[1], cell) : "";
  }

  #problemOfUnit(cell, { value, written, feet, fraction, unit, beside }) {
    const words = this.rules.words;
    const says = (name) =>
      filled(words[name], cell, { unit: written, beside, effective: beside && !unit ? ` ${beside}` : "" });
    if (written && !Object.hasOwn(this.rules.bases, unit) && unit !== beside) return says("unknown unit");
    if (feet && unit !== "in" && unit !== "ft") return says("feet and another");
    if (fraction && !unit && beside.startsWith("1/")) return says("fraction of parts");
    if (unit && beside && this.base(unit) !== this.base(beside)) return says("contradicts");
    const effective = unit || beside;
    const length = Object.hasOwn(this.rules.lengths, effective);
    const tooLong = length && Math.abs(value * this.per(effective)) > this.rules.largest_length;
    return tooLong || Math.abs(value) > this.rules.largest_number ? says("beyond") : "";
  }

  #fold(cell, decimal) {
    let text = cell;
    if (/[^\0-\x7f]/.test(text)) {
      text = replaced(replaced(text, this.spelled).normalize("NFKC"), this.oddMarks);
    }
    text = replaced(text, this.marks);
    if (decimal === ",") text = text.replace(/[,.]/g, (mark) => (mark === "," ? "." : ","));
    return text.trim();
  }

  #foldedUnit(text) {
    const marks = this.rules.unit_marks;
    let unit = [...text.normalize("NFC")].map((c) => marks[c] ?? c).join("").trim();
    unit = unit.replace(/^[()[\]{}]+|[()[\]{}]+$/g, "").toLowerCase();
    return unit.replace(/[.,](?![0-9])/g, "").split(/\s+/).filter(Boolean).join(" ");
  }
}

function replaced(text, marks) {
  return marks.reduce((now, [pattern, put]) => now.replace(pattern, put), text);
}

function filled(words, cell, names = {}) {
  const line = cell.split(/\s+/).filter(Boolean).join(" ");
  const shown = [...line].length > 60 ? `${[...line].slice(0, 59).join("")}…` : line;
  const put = words.replace(/\{([a-z]*)\}/g, (mark, name) => (name ? (names[name] ?? mark) : `'${shown}'`));
  return put;
}
