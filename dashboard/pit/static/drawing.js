// The server's drawing, built element by element: nothing in it is ever read as markup.

const SVG = "http://www.w3.org/2000/svg";
const TAGS = new Set(["svg", "title", "defs", "pattern", "path", "circle", "line", "rect", "g", "text"]);

export function built(node) {
  if (typeof node === "string") return document.createTextNode(node);
  const [tag, attributes, children] = node;
  if (!TAGS.has(tag)) return document.createTextNode("");
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (!/^on|href|style/i.test(name)) made.setAttribute(name, String(value));
  }
  for (const child of children) made.append(built(child));
  return made;
}

// A drawing in a box; `picked` is called with the key of a place.
export function drawInto(box, scene, picked) {
  box.replaceChildren();
  if (!scene) return;
  const drawing = built(scene);
  const pick = (event) => {
    const place = event.target.closest?.(".place");
    if (place) picked(place.dataset.place);
  };
  drawing.addEventListener("click", pick);
  drawing.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); pick(event); }
  });
  box.append(drawing);
}

export function markPlaces(box, here, done) {
  for (const place of box.querySelectorAll(".place")) {
    place.classList.toggle("here", place.dataset.place === here);
    place.classList.toggle("done", done.has(place.dataset.place));
    place.setAttribute("aria-pressed", String(place.dataset.place === here));
  }
}
