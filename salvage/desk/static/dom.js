// Making elements. Text goes in as text, never as markup, so that no name and no record can be more than words.

const SVG = "http://www.w3.org/2000/svg";

/** An element with attributes and children; a function under `onNAME` listens. Null and false are left out. */
export function h(name, attributes = {}, ...children) {
  return fill(document.createElement(name), attributes, children);
}

/** The same for a drawing. */
export function s(name, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, name), attributes, children);
}

function fill(element, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  element.append(...children.flat(3).filter((each) => each !== null && each !== undefined && each !== false));
  return element;
}

/** What stands under a data-ref in an element, by its name. */
export function refs(root) {
  const found = {};
  for (const each of root.querySelectorAll("[data-ref]")) found[each.dataset.ref] = each;
  return found;
}

/** A screen of the page's templates. */
export function screen(name) {
  return document.getElementById(`screen-${name}`).content.firstElementChild.cloneNode(true);
}

/** Points as the `points` of a polyline or the `d` of a path. */
export const line = (points) => points.map((p, n) => `${n ? "L" : "M"}${p[0]} ${p[1]}`).join("");
export const ring = (points) => `${line(points)}Z`;
export const rings = (all) => all.map(ring).join("");
