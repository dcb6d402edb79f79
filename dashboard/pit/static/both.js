// What the page at the engine and the one at the desk show alike.

import * as keep from "./keep.js";
import * as send from "./send.js";

export const DUE = "due", ALL = "all";

// Which places a round may have: what is due, or all.
export function choicesOf(points) {
  const due = points.filter((each) => each.due).length;
  return [
    { value: DUE, words: due ? `what is due: ${due}` : "what is due: nothing, so all" },
    { value: ALL, words: `all places: ${points.length}` },
  ];
}

export function applyTheme() {
  const is = keep.remembered("theme");
  document.documentElement.classList.toggle("dark", is === "dark");
  document.documentElement.classList.toggle("light", is === "light");
}

export function turnTheme() {
  const is = keep.remembered("theme");
  const dark = is ? is === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  keep.remember("theme", dark ? "light" : "dark");
  applyTheme();
}

export function offer(select, listed, chosen) {
  select.replaceChildren(...listed.map(({ value, words }) => {
    const made = document.createElement("option");
    made.value = value;
    made.textContent = words;
    made.selected = value === chosen;
    return made;
  }));
}

export const asChoices = (vehicles) => vehicles.map((each) => ({ value: each.vehicle, words: each.name || each.vehicle }));

// A button that says what waits to be sent, and what was sent and is held back: its list says why.
export function showWaiting(button) {
  return (entries, pictures, came, held) => {
    const count = entries + pictures;
    button.textContent = words(count, came, held);
    button.className = count || held ? "waits" : "";
  };
}

function words(count, came, held) {
  if (!count && came === send.OFFLINE) return "No connection";
  if (!count) return held ? `All sent, ${held} held back` : "All sent";
  if (came === send.OFFLINE) return `${count} to send, no connection`;
  return came === send.SIGN_IN ? `${count} to send: sign in` : `${count} to send`;
}
