/** What a sweep or an advice found. */

import { colour, css, inkOn } from "./colours.js";
import { byId, button, el, put } from "./dom.js";
import { amount, counted, number, percent, percents, unitWords } from "./words.js";

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
  const words = `In per cent: the share of prints that meet every limit: dark none, bright all. ${percent(required)} is required (framed: solid where its 95 % interval shows that, dashed where the share alone does). Across: ${axisName(across)}${up ? `; up: ${axisName(up)}` : ""}. Hatched: no answer. Empty: not yet worked out. Choose a cell to load its setting. `;
  const readout = el("p", { class: "point-words" }, POINT_AT);
  const read = ({ target }) => (readout.textContent = target.closest(".point")?.dataset.words ?? readout.textContent);
  for (const kind of ["pointerover", "focusin"]) table.addEventListener(kind, read);
  return [
    labelled(el("div", { class: "scroll" }, table), required),
    readout,
    el("p", { class: "note small" }, words, el("a", { href: "#verdict" }, "To map and verdict"), "."),
  ];
}

/** What stands below a window map until a cell is pointed at. */
const POINT_AT = "Point at a cell, or go through them with the arrow keys, to read it.";

/** Takes a cell over and marks it. */
function choose(cell, work) {
  for (const one of cell.closest("table").querySelectorAll("[aria-pressed]")) one.removeAttribute("aria-pressed");
  cell.setAttribute("aria-pressed", "true");
  work();
}

/** Frames the cells with as large a share as is required, and says in words how sure that is. */
function labelled(part, required) {
  for (const one of part.querySelectorAll("[data-share]")) {
    const [share, low, high] = ["share", "low", "high"].map((name) => Number(one.dataset[name]));
    const [isEnough, isSure] = [share, low].map((value) => value >= required - 1e-9);
    one.classList.toggle("enough", isEnough);
    one.classList.toggle("sure", isSure);
    const words = isSure
      ? "that is enough"
      : high < required
        ? "that is too few"
        : "more prints would tell whether that is enough";
    one.dataset.words += `. ${percent(required)} must: ${words}.`;
    one.setAttribute("aria-label", one.dataset.words);
  }
  const first = part.querySelector("button:not([disabled])");
  if (first) first.tabIndex = 0;
  return part;
}

function pointButton(point, where, hasText, choose) {
  if (!point) return el("span", { class: "point", data: { words: `${where}: not yet worked out` } });
  const { share, low, high, error, prints } = point;
  if (share === null || share === undefined) {
    const why = `${where}: ${error ?? "no limits to meet"}`;
    return button(hasText ? "–" : "", choose, { class: "point failed", tabindex: -1, data: { words: why }, "aria-label": why });
  }
  const words = `${where}: ${Math.round(share * prints)} of ${counted(prints, "print", "prints")} pass; over many prints ${percents(low, high)} (95 % interval)`;
  const shade = colour(share);
  return button(hasText ? number(100 * share, 2) : "", choose, {
    class: "point",
    tabindex: -1,
    data: { share, low, high, words },
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
