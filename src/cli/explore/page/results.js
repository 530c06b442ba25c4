/** What a sweep or an advice found. */

import { colour, css, inkOn } from "./colours.js";
import { byId, button, el, put } from "./dom.js";
import { amount, number, percent, percents, unitWords } from "./words.js";

/** Most columns whose cells have room for text. */
const MOST_WITH_TEXT = 14;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** Shows a result in its section; `load(values, base)` takes a setting of it over. */
export function showResult(job, result, load) {
  byId("result-section").hidden = false;
  const take = (values) => load(values, result.values);
  byId("result-title").textContent = job.title;
  put(byId("result"));
  byId("result").append(...(job.kind === "sweep" ? sweep(result, take) : advice(job, result, take)));
}

function sweep({ axes, points, required }, load) {
  const [across, up] = axes;
  const rows = up ? [...up.values].reverse() : [null];
  const at = new Map(points.map((point) => [point.values.join(" "), point]));
  const hasText = across.values.length <= MOST_WITH_TEXT;
  const cell = (x, y) => {
    const values = y === null ? [x] : [x, y];
    const setting = Object.fromEntries(axes.map((axis, k) => [axis.key, values[k]]));
    return el(
      "td",
      {},
      pointButton(
        at.get(values.join(" ")),
        values.map((value, k) => `${axes[k].label} ${amount(value, axes[k].unit, 6)}`).join(", "),
        hasText,
        (event) => choose(event.currentTarget, () => load(setting)),
      ),
    );
  };
  const table = el(
    "table",
    { class: "window-map", onkeydown: walk },
    el(
      "tbody",
      {},
      rows.map((y) =>
        el(
          "tr",
          {},
          el("th", { scope: "row" }, y === null ? "" : number(y, 4)),
          across.values.map((x) => cell(x, y)),
        ),
      ),
    ),
    el(
      "tfoot",
      {},
      el(
        "tr",
        {},
        el("td", {}),
        across.values.map((x) => el("th", { scope: "col" }, number(x, 4))),
      ),
    ),
  );
  const axisName = (axis) => `${axis.label}${axis.unit ? ` (${unitWords(axis.unit)})` : ""}`;
  const words = `In per cent: the share of prints that meet every limit: dark none, bright all. ${percent(required)} is required (framed). Across: ${axisName(across)}${up ? `; up: ${axisName(up)}` : ""}. Hatched: no answer. Empty: not yet worked out. Choose a cell to load its setting. `;
  return [
    el("div", { class: "scroll" }, table),
    el("p", { class: "note small" }, words, el("a", { href: "#verdict" }, "To map and verdict"), "."),
  ].map((part, k) => (k === 0 ? labelled(part, required) : part));
}

/** Takes a cell over and marks it. */
function choose(cell, work) {
  for (const one of cell.closest("table").querySelectorAll("[aria-pressed]")) one.removeAttribute("aria-pressed");
  cell.setAttribute("aria-pressed", "true");
  work();
}

/** Frames the cells with as large a share as is required. */
function labelled(part, required) {
  for (const one of part.querySelectorAll("[data-share]"))
    one.classList.toggle("enough", Number(one.dataset.share) >= required - 1e-9);
  const first = part.querySelector("button:not([disabled])");
  if (first) first.tabIndex = 0;
  return part;
}

function pointButton(point, where, hasText, choose) {
  if (!point) return el("span", { class: "point", title: where });
  const { share, low, high, error } = point;
  if (share === null || share === undefined) {
    const why = `${where}: ${error ?? "no limits to meet"}`;
    return button(hasText ? "–" : "", choose, { class: "point failed", tabindex: -1, title: why, "aria-label": why });
  }
  const words = `${where}: ${percent(share)} of prints pass (${percents(low, high)})`;
  const shade = colour(share);
  return button(hasText ? number(100 * share, 2) : "", choose, {
    class: "point",
    tabindex: -1,
    data: { share },
    title: words,
    "aria-label": words,
    style: `background: ${css(shade)}; color: ${inkOn(shade)}`,
  });
}

/** Arrow keys go from cell to cell. */
function walk(event) {
  const way = ARROWS[event.key];
  const cell = event.target.closest("td");
  if (!way || !cell) return;
  event.preventDefault();
  const row = event.currentTarget.rows[cell.parentElement.rowIndex + way[1]];
  const next = row?.cells[cell.cellIndex + way[0]]?.querySelector("button");
  if (!next) return;
  event.target.tabIndex = -1;
  next.tabIndex = 0;
  next.focus();
}

function advice({ open }, { choices, blocked }, load) {
  const choice = ({ values, head, share_text: share, why }) =>
    el(
      "li",
      {},
      button(head, () => load(values), { class: "choice" }),
      el("span", {}, share),
      el("span", { class: "why" }, why),
    );
  return [
    blocked && el("p", {}, blocked),
    el("ul", { class: "choices" }, choices.map(choice)),
    el(
      "p",
      { class: "note small" },
      choices.length > 0 && "Choose one to load its setting. ",
      open && el("a", { href: open, target: "_blank", rel: "noopener" }, "The whole advice"),
      open && ".",
    ),
  ].filter(Boolean);
}
