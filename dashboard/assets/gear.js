// Builds the drawing node by node from data. Only these tags, and no attribute that could run or load
// anything, so that a name out of a file stays a name.
const TAGS = new Set(["svg", "g", "circle", "rect", "line", "path", "text", "title", "defs", "pattern"]);
const SVG = "http://www.w3.org/2000/svg";

function build(node) {
  if (typeof node === "string") return document.createTextNode(node);
  const [tag, attributes, children] = node;
  if (!TAGS.has(tag)) return document.createTextNode("");
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (!/^on|href/i.test(name)) element.setAttribute(name, String(value));
  }
  for (const child of children) element.append(build(child));
  return element;
}

function legend(entries) {
  const list = document.createElement("ul");
  list.className = "legend";
  for (const entry of entries) {
    const item = document.createElement("li");
    item.append(build(entry.swatch), document.createTextNode(entry.word));
    list.append(item);
  }
  return list;
}

export default function ({ parentElement, data, setStateValue }) {
  const root = parentElement.querySelector(".gear");
  // The mark moves at once; what belongs to the place follows from the server.
  const mark = (key) => {
    for (const place of root.querySelectorAll("[data-place]")) {
      const picked = place.dataset.place === key;
      place.setAttribute("aria-pressed", String(picked));
      place.classList.toggle("picked", picked);
      if (picked) root.dataset.picked = key;
    }
  };
  const pick = (key) => {
    mark(key);
    setStateValue("place", key);
  };
  const written = JSON.stringify(data);
  // A rerun that changes nothing must not take the focus away from who works by keyboard.
  if (root.dataset.written !== written) {
    const focused = parentElement.activeElement?.dataset?.place;
    root.dataset.written = written;
    root.replaceChildren();
    data.drawings.forEach((drawing, index) => {
      const figure = document.createElement("figure");
      figure.style.flexGrow = String(drawing.width);
      figure.style.flexBasis = `min(100%, ${Math.round(drawing.width * 0.95)}px)`;
      figure.style.maxWidth = Math.round(drawing.width * 1.12) + "px";
      const name = document.createElement("figcaption");
      name.textContent = drawing.name;
      const svg = build(drawing.scene);
      for (const place of svg.querySelectorAll("[data-place]")) place.dataset.place = index + ":" + place.dataset.place;
      figure.append(name, svg);
      root.append(figure);
    });
    root.append(legend(data.legend));
    mark(root.dataset.picked ?? data.picked);
    if (focused) root.querySelector(`[data-place="${CSS.escape(focused)}"]`)?.focus();
  }
  for (const place of root.querySelectorAll("[data-place]")) {
    place.onclick = () => pick(place.dataset.place);
    place.onkeydown = (event) => {
      if (event.key === "Enter" || event.key === " ") {
        event.preventDefault();
        pick(place.dataset.place);
      }
    };
  }
}
