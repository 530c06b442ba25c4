/** Settings that are kept to be compared. */

import { byId, button, el, put } from "./dom.js";
import { same } from "./state.js";
import { amount, capital, counted, dialName, figureKey, percents } from "./words.js";

const THUMBNAIL_PX = 96;
/** Least change of a figure that is marked, as a part of its limit. */
const LEAST = 0.005;

/** `now()` gives what is known of the present setting: `{expected, prints}`; `thumbnail(size)` a small picture of it. */
export function createPins(scenario, state, { now, thumbnail }) {
  const dials = new Map(scenario.dials.map((dial) => [dial.key, dial]));
  byId("pin").onclick = add;
  // A listener that gives false would swallow the key.
  byId("pin-name").onkeydown = (event) => {
    if (event.key === "Enter") add();
  };

  function add() {
    const field = byId("pin-name");
    state.pins.push({ name: field.value.trim() || nextName(), values: state.values(), ...summary() });
    field.value = "";
    state.keep();
    show();
  }

  /** A number that no pin bears. */
  function nextName() {
    const taken = new Set(state.pins.map((pin) => pin.name));
    return Array.from(taken, (_, k) => `pin ${k + 1}`).find((name) => !taken.has(name)) ?? `pin ${taken.size + 1}`;
  }

  /** What is kept of the present setting; nothing until its figures have come. */
  function summary() {
    const { expected, prints } = now();
    if (!expected) return {};
    const limits = (prints?.limits ?? expected.limits).map((limit, k) => ({
      ...kept(limit),
      ...compared(limit, expected.limits[k]),
    }));
    return {
      head: prints?.head ?? expected.head,
      rest: prints ? passed(prints) : "",
      limits,
      picture: thumbnail(THUMBNAIL_PX),
    };
  }

  function remove(pin) {
    state.pins.splice(state.pins.indexOf(pin), 1);
    state.keep();
    show();
  }

  function show() {
    byId("pins-section").hidden = state.pins.length === 0;
    if (state.pins.length === 0) return put(byId("pins"));
    const present = { name: "now", values: state.values(), isNow: true, ...summary() };
    const columns = [present, ...state.pins];
    const changed = [...new Set(columns.flatMap((column) => Object.keys(column.values)))].filter((key) =>
      dials.has(key),
    );
    const limits = new Map(columns.flatMap((column) => column.limits ?? []).map((limit) => [figureKey(limit), limit]));
    byId("pins").replaceChildren(
      el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "setting"), columns.map(head))),
      el(
        "tbody",
        {},
        row("verdict", columns, (column) => [
          column.head ?? "…",
          column.rest && el("span", { class: "why" }, column.rest),
        ]),
        changed.map((key) => dialRow(dials.get(key), columns)),
        [...limits.values()].map((limit) => limitRow(limit, columns)),
      ),
    );
  }

  function head(column) {
    const picture = column.picture
      ? el("img", { src: column.picture, alt: `map of ${column.name}`, width: THUMBNAIL_PX })
      : el("span", { class: "no-picture" }, "…");
    if (column.isNow) return el("th", { scope: "col" }, picture, el("div", {}, "now"));
    return el(
      "th",
      { scope: "col", data: { pin: column.name }, "aria-label": column.name },
      button(picture, () => state.load(column.values), { class: "thumbnail", "aria-label": `Load ${column.name}` }),
      el(
        "div",
        {},
        button(column.name, () => state.load(column.values), { class: "plain", title: "load" }),
        " ",
        button("remove", () => remove(column), { class: "plain small", "aria-label": `Remove ${column.name}` }),
      ),
    );
  }

  const row = (title, columns, cell) =>
    el(
      "tr",
      {},
      el("th", { scope: "row" }, title),
      columns.map((column) => el("td", {}, cell(column))),
    );

  function dialRow(dial, columns) {
    const value = (column) => column.values[dial.key] ?? dial.value;
    return row(dialName(dial), columns, (column) =>
      marked(amount(value(column), dial.unit, 6), value(column) - value(columns[0])),
    );
  }

  function limitRow(limit, columns) {
    const of = (column) => column.limits?.find((one) => figureKey(one) === figureKey(limit));
    return row(capital(limit.name), columns, (column) => {
      const own = of(column);
      return own
        ? [marked(own.text, beyondChance(own, of(columns[0]))), own.met && el("span", { class: "why" }, own.met)]
        : "…";
    });
  }

  return {
    show,
    /** More is known of the present setting: a pin of it is kept up. */
    refresh() {
      for (const pin of state.pins.filter((one) => same(one.values, state.values()))) Object.assign(pin, summary());
      state.keep();
      show();
    },
  };
}

/** What a pin shows of a limit. */
const kept = ({ id, place, name, text, max, min, met_text: met, share_text: share }) => ({
  limit: max || min || 0,
  id,
  place,
  name,
  text,
  met: met ?? share,
});

/** By what settings are compared: what is expected, or where only prints tell their mean, with its standard error. */
function compared(limit, expected) {
  if (Number.isFinite(expected?.mean)) return { mean: expected.mean, error: 0, by: "expected" };
  return { mean: limit.mean, error: limit.n ? limit.sd / Math.sqrt(limit.n) : null, by: "prints" };
}

/** By how much a figure is larger than that of another setting; 0 if that may be chance. */
function beyondChance(own, other) {
  if (!other || own.by !== other.by || !Number.isFinite(own.mean) || !Number.isFinite(other.mean)) return 0;
  const change = own.mean - other.mean;
  const isChance =
    Math.abs(change) <= 2 * Math.hypot(own.error, other.error) ||
    Math.abs(change) <= LEAST * Math.abs(own.limit || other.mean);
  return isChance ? 0 : change;
}

/** How many prints passed. */
function passed({ prints, share, share_low: low, share_high: high }) {
  if (share === null) return counted(prints, "print", "prints");
  return `${Math.round(share * prints)} of ${counted(prints, "print", "prints")}, ${percents(low, high)}`;
}

/** A text, bold and with a sign if it is of something larger or smaller than now. */
function marked(text, change) {
  return change === 0 ? text : el("b", {}, `${change > 0 ? "▲" : "▼"} ${text}`);
}
