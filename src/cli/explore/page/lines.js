/** Measured lines beside what the model makes of them. */

import { get } from "./ask.js";
import { dot, dotRows } from "./charts.js";
import { byId, el, svg } from "./dom.js";
import { capital, number, unitWords, withUnit } from "./words.js";

/** Distance between measured and predicted, in their uncertainties, from which on a line is marked. */
const FAR = 2;

/** What is known of a figure of a line: its columns, and how it is called and marked. */
const KINDS = [
  { name: "measured", value: "measured", sd: "measured_sd", mark: "s0", shape: "disc" },
  { name: "before, as the file says", value: "as_set", sd: null, mark: "s1", shape: "ring" },
  { name: "after, calibrated", value: "calibrated", sd: "calibrated_sd", mark: "s2", shape: "square" },
];

/** Shows the lines of the calibration, if they stand beside it. */
export async function showLines() {
  const { lines } = await get("/api/lines").catch(() => ({ lines: [] }));
  if (lines.length === 0) return;
  const quantities = [...new Set(lines.map(({ quantity }) => quantity))];
  byId("line-charts").append(
    ...quantities.map((quantity) => figure(quantity, lines.filter((line) => line.quantity === quantity))),
  );
  const titles = ["line", "figure", ...KINDS.map(({ name }) => name), "off by"];
  byId("lines").append(
    el("thead", {}, el("tr", {}, titles.map((title) => el("th", { scope: "col" }, title)))),
    el("tbody", {}, lines.map(row)),
  );
  byId("lines-section").hidden = false;
}

/** A number of the table; `null` where there is none. */
const told = (line, column) => (column && line[column] ? Number(line[column]) : null);

/** All lines of which a quantity was measured. */
function figure(quantity, lines) {
  const name = `${capital(quantity)}${lines[0].unit ? ` (${unitWords(lines[0].unit)})` : ""}`;
  const dots = (line) =>
    KINDS.map(({ value, sd, ...kind }) => ({ ...kind, value: told(line, value), sd: told(line, sd) })).filter(
      ({ value }) => value !== null,
    );
  const nameOf = (line) =>
    [line.line, line.held_out && "held out", isFar(line) && `✕ off by ${offBy(line)}`].filter(Boolean).join(", ");
  const title = `${name} of ${lines.length} lines: measured, and predicted before and after calibration. The table below holds the numbers.`;
  return el(
    "figure",
    {},
    el("h3", { class: "card" }, capital(quantity)),
    dotRows({ title, x: { label: name }, rows: lines.map((line) => ({ name: nameOf(line), dots: dots(line) })) }),
    el("figcaption", {}, KINDS.map(key)),
  );
}

const key = ({ name, mark, shape }) =>
  el("span", { class: "key" }, svg("svg", { width: 12, height: 12, class: mark, "aria-hidden": "true" }, dot(shape, 6, 6)), name);

const isFar = (line) => Math.abs(Number(line.off_by)) >= FAR;
const offBy = (line) => `${number(Number(line.off_by), 2)}\u00a0sd`;

function row(line) {
  const cell = ({ value, sd }) => {
    const [mean, error] = [told(line, value), told(line, sd)];
    const text = error ? `${number(mean)} ± ${number(error, 2)}` : number(mean);
    return el("td", {}, mean === null ? "–" : withUnit(text, line.unit));
  };
  const words = `${offBy(line)}${isFar(line) ? " ✕" : ""}`;
  return el(
    "tr",
    {},
    el("th", { scope: "row" }, line.line, line.held_out && el("span", { class: "why" }, "held out")),
    el("td", {}, capital(line.quantity)),
    KINDS.map(cell),
    el("td", {}, isFar(line) ? el("b", {}, words) : words),
  );
}
