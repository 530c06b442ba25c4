/** Measured lines beside what the model makes of them. */

import { get } from "./ask.js";
import { byId, el } from "./dom.js";
import { capital, number, withUnit } from "./words.js";

/** Distance between measured and predicted, in their uncertainties, from which on a line is marked. */
const FAR = 2;

/** Shows the lines of the calibration, if they stand beside it. */
export async function showLines() {
  const { lines } = await get("/api/lines").catch(() => ({ lines: [] }));
  if (lines.length === 0) return;
  const titles = ["line", "figure", "measured", "as the file says", "calibrated", "off by"];
  byId("lines").append(
    el("thead", {}, el("tr", {}, titles.map((title) => el("th", { scope: "col" }, title)))),
    el("tbody", {}, lines.map(row)),
  );
  byId("lines-section").hidden = false;
}

function row(line) {
  const value = (text, sd) => withUnit(sd ? `${number(Number(text))} ± ${number(Number(sd), 2)}` : number(Number(text)), line.unit);
  const off = Number(line.off_by);
  const words = `${number(off, 2)}\u00a0sd${Math.abs(off) >= FAR ? " ✕" : ""}`;
  return el(
    "tr",
    {},
    el("th", { scope: "row" }, line.line, line.held_out && el("span", { class: "why" }, "held out")),
    el("td", {}, capital(line.quantity)),
    el("td", {}, value(line.measured, line.measured_sd)),
    el("td", {}, value(line.as_set)),
    el("td", {}, value(line.calibrated, line.calibrated_sd)),
    el("td", {}, Math.abs(off) >= FAR ? el("b", {}, words) : words),
  );
}
