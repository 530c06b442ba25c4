/** Making elements. */

const SVG = "http://www.w3.org/2000/svg";

/** The element with this id. */
export const byId = (id) => document.getElementById(id);

/**
 * An element with its properties and children. `on...` are listeners, `data` becomes data attributes, `false` and `null` leave an
 * attribute out; children that are `null` are left out, too.
 */
export function el(name, properties = {}, ...children) {
  return fill(document.createElement(name), properties, children);
}

/** The same for a drawing. */
export function svg(name, properties = {}, ...children) {
  return fill(document.createElementNS(SVG, name), properties, children);
}

function fill(element, properties, children) {
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "data") Object.assign(element.dataset, value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(
    ...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false),
  );
  return element;
}

/** A real button. */
export function button(text, onclick, properties = {}) {
  return el("button", { type: "button", onclick, ...properties }, text);
}

/**
 * Puts other children into an element, but only if their text or marks differ: what did not change keeps focus and selection. A button
 * that had the focus hands it to the new one of the same name.
 */
export function put(element, ...children) {
  const next = el("div", {}, ...children);
  if (next.innerHTML === element.innerHTML) return;
  const name = (one) => `${one.tagName} ${one.getAttribute("aria-label") ?? one.textContent}`;
  const focused = element.contains(document.activeElement) ? name(document.activeElement) : null;
  element.replaceChildren(...next.childNodes);
  if (focused)
    [...element.querySelectorAll("button, a")].find((one) => name(one) === focused)?.focus({ preventScroll: true });
}

/** Calls `work` once, `wait` ms after the last call. */
export function rested(wait, work) {
  let timer;
  const later = (...given) => {
    clearTimeout(timer);
    timer = setTimeout(() => work(...given), wait);
  };
  later.cancel = () => clearTimeout(timer);
  return later;
}
