/** The limits, where each figure stands between them, and which dials move it. */

import { margin } from "./charts.js";
import { byId, el, put } from "./dom.js";
import { capital } from "./words.js";

/** How prints that meet a limit are marked: the report's classes. */
const MARKS = { all: "met all", enough: "met enough", some: "met some", none: "met some" };

/** Shows the limits: as `expected`, or from `prints` once there are some; `movers` gives what moves a figure. */
export function showLimits(expected, prints, movers) {
  const rows = prints?.limits ?? expected?.limits ?? [];
  byId("limits-note").hidden = rows.length === 0;
  if (rows.length === 0) {
    put(
      byId("limits"),
      el(
        "caption",
        { class: "note" },
        "The scenario sets no limits. Set some under ",
        el("code", {}, "acceptance"),
        " to get a decision.",
      ),
    );
    return;
  }
  put(
    byId("limits"),
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        heads(prints).map(([title, what]) => el("th", { scope: "col" }, title, what && el("span", { class: "why" }, what))),
      ),
    ),
    el(
      "tbody",
      {},
      rows.map((row) => [limitRow(row, Boolean(prints)), moverRow(movers(row, rows))]),
    ),
  );
}

/** Titles of the columns and what stands in them: prints tell how well the mean is known, the expected deposit has it at once. */
const heads = (prints) => [
  ["limit"],
  ["where it stands", "bar, sd: between prints"],
  prints ? ["predicted", "mean ± its 95 % interval"] : ["expected", "mean over prints"],
  ["met by", prints ? "prints; 95 % interval" : "share of prints"],
];

function limitRow(row, fromPrints) {
  const sd = row.scatter && `sd ${row.scatter}`;
  const title = `${row.name}: ${row.text}, ${sd ? `${sd} between prints, ` : ""}required ${row.required}`;
  const met = fromPrints
    ? twoLines(row.met_text, /^(.*?), (.*)$/s, MARKS[row.all] ?? "met")
    : el("span", { class: expectedMark(row) }, row.share_text || "only prints tell");
  return el(
    "tr",
    { data: { figure: row.id, place: row.place ?? "" } },
    el(
      "th",
      { scope: "row", title: row.meaning },
      capital(row.name),
      el("span", { class: "why" }, row.implied ? `${row.required}, as it must stay clean` : row.required),
    ),
    el(
      "td",
      {},
      margin({ title, min: row.min, max: row.max, mean: row.mean, sd: row.sd }),
      sd && el("span", { class: "why" }, sd),
    ),
    el("td", { class: "value" }, twoLines(row.text, /^(.*?) (\(.*\)|upper bound.*|largest.*)$/s)),
    el("td", {}, met),
  );
}

/** A text whose second part, such as an interval, stands below. */
function twoLines(text, parts, mark = "") {
  const [, first, second] = text.match(parts) ?? [null, text];
  return [el("span", { class: mark }, first), second && el("span", { class: "why" }, second)];
}

const expectedMark = ({ meets }) => (meets === true ? "met enough" : meets === false ? "met some" : "met");

function moverRow(movers) {
  return movers ? el("tr", { class: "movers" }, el("td", { colspan: 4 }, movers)) : null;
}
