/** Small charts with axes, units and round ticks. */

import { svg } from "./dom.js";
import { number } from "./words.js";

const [LEFT, RIGHT, TOP, BOTTOM] = [52, 12, 10, 42];
/** Widths of ticks' labels, px. */
const [ROOM_X, ROOM_Y] = [62, 34];

/** 1, 2 or 5 times a power of ten at about `value`; `round` picks the one above or below. */
export function nice(value, round = Math.ceil) {
  const power = 10 ** Math.floor(Math.log10(value));
  const steps = [1, 2, 5, 10];
  const share = value / power;
  const fit =
    round === Math.ceil ? steps.find((step) => step >= share - 1e-9) : steps.findLast((step) => step <= share + 1e-9);
  return (fit ?? 1) * power;
}

/** Round values between two, at most about `most`. */
export function ticks(low, high, most) {
  if (!(high > low)) return [low];
  const step = nice((high - low) / Math.max(1, most));
  const first = Math.ceil(low / step - 1e-9);
  const last = Math.floor(high / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, k) => Number(((first + k) * step).toPrecision(12)));
}

/** The same for a logarithmic axis: 1, 2, 5 where there is room, powers of ten otherwise. */
export function logTicks(low, high, most) {
  const [first, last] = [Math.floor(Math.log10(low)), Math.ceil(Math.log10(high))];
  const steps = last - first <= most / 3 ? [1, 2, 5] : [1];
  const every = Math.max(1, Math.ceil((last - first) / most));
  const all = [];
  for (let power = first; power <= last; power += every) all.push(...steps.map((step) => step * 10 ** power));
  return all
    .filter((value) => value >= low * (1 - 1e-9) && value <= high * (1 + 1e-9))
    .map((v) => Number(v.toPrecision(12)));
}

/** An axis from data to pixels. */
function axis({ low, high, isLog }, from, to) {
  const at = isLog ? Math.log10 : (v) => v;
  const [a, b] = [at(low), at(high)];
  return (value) => from + ((at(value) - a) / (b - a || 1)) * (to - from);
}

/**
 * A chart. `x` and `y`: `{label, low, high, isLog}`, the label with its unit. `series`: `{name, mark, points: [[x, y], …],
 * isSteps, isArea, isDashed}`, `mark` one of the house's classes `s0` to `s6`. `title` is what a screen reader says.
 */
export function chart({ title, x, y, series, width = 380, height = 210 }) {
  const toX = axis(x, LEFT, width - RIGHT);
  const toY = axis(y, height - BOTTOM, TOP);
  const [bottom, right] = [height - BOTTOM, width - RIGHT];
  const xs = (x.isLog ? logTicks : ticks)(x.low, x.high, (right - LEFT) / ROOM_X);
  const ys = (y.isLog ? logTicks : ticks)(y.low, y.high, (bottom - TOP) / ROOM_Y);
  const line = (x1, y1, x2, y2, mark) => svg("line", { x1, y1, x2, y2, class: mark });
  const text = (at, words, properties) => svg("text", { x: at[0], y: at[1], ...properties }, words);
  const middle = { "text-anchor": "middle" };
  return svg(
    "svg",
    { viewBox: `0 0 ${width} ${height}`, class: "plot", role: "img", "aria-label": title },
    ys.map((value) => line(LEFT, toY(value), right, toY(value), "grid")),
    xs.map((value) => line(toX(value), TOP, toX(value), bottom, "grid")),
    ys.map((value) => text([LEFT - 6, toY(value) + 4], number(value), { class: "tick", "text-anchor": "end" })),
    xs.map((value) => text([toX(value), bottom + 16], number(value), { class: "tick", ...middle })),
    line(LEFT, bottom, right, bottom, "axis"),
    line(LEFT, TOP, LEFT, bottom, "axis"),
    text([(LEFT + right) / 2, height - 6], x.label, { class: "label", ...middle }),
    text([0, 0], y.label, { class: "label", ...middle, transform: `translate(12 ${(TOP + bottom) / 2}) rotate(-90)` }),
    series.map((one) => curve(one, toX, toY, bottom)),
  );
}

function curve({ points, mark, isSteps, isArea, isDashed }, toX, toY, bottom) {
  const at = points.map(([px, py]) => [toX(px), Math.max(TOP, Math.min(bottom, toY(py)))]);
  const corners = isSteps
    ? at.flatMap(([px, py], k) =>
        k > 0
          ? [
              [px, at[k - 1][1]],
              [px, py],
            ]
          : [[px, py]],
      )
    : at;
  const path = (all) => all.map(([px, py], k) => `${k ? "L" : "M"}${px.toFixed(1)} ${py.toFixed(1)}`).join("");
  const closed = isArea && at.length > 1 ? [[at[0][0], bottom], ...corners, [at.at(-1)[0], bottom]] : null;
  return svg(
    "g",
    { class: mark },
    closed && svg("path", { d: `${path(closed)}Z`, class: "band" }),
    svg("path", { d: path(corners), class: "line", "stroke-dasharray": isDashed ? "6 3" : null }),
  );
}

/** Heights of a row of dots and of the marks in it, px. */
const [ROW, MARKS_AT, APART] = [50, 23, 8.5];

/**
 * Dots with whiskers, row by row, each row under its name. `x`: `{label}`, with its unit. `rows`: `{name, dots: [{mark, shape, value, sd}, …]}`,
 * `mark` as in a chart, `shape` as in `dot`; `sd` may be missing.
 */
export function dotRows({ title, x, rows, width = 380 }) {
  const ends = rows.flatMap(({ dots }) => dots.flatMap(({ value, sd }) => [value - (sd ?? 0), value + (sd ?? 0)]));
  const [least, most] = [Math.min(...ends), Math.max(...ends)];
  const room = 0.06 * (most - least || Math.abs(most) || 1);
  const [low, high] = [least >= 0 ? Math.max(0, least - room) : least - room, most + room];
  const height = ROW * rows.length + BOTTOM;
  const [bottom, right] = [height - BOTTOM, width - RIGHT];
  const toX = axis({ low, high }, RIGHT, right);
  const middle = { "text-anchor": "middle" };
  const row = ({ name, dots }, k) => [
    k > 0 && svg("line", { x1: 0, x2: width, y1: ROW * k, y2: ROW * k, class: "grid" }),
    svg("text", { x: 2, y: ROW * k + 14, class: "label" }, name),
    dots.map(({ mark, shape, value, sd }, i) => {
      const y = ROW * k + MARKS_AT + APART * i;
      const whisker = sd > 0 && svg("line", { x1: toX(value - sd), x2: toX(value + sd), y1: y, y2: y, class: "line" });
      return svg("g", { class: mark }, whisker, dot(shape, toX(value), y));
    }),
  ];
  return svg(
    "svg",
    { viewBox: `0 0 ${width} ${height}`, class: "plot", role: "img", "aria-label": title },
    ticks(low, high, (right - RIGHT) / ROOM_X).map((value) => [
      svg("line", { x1: toX(value), x2: toX(value), y1: 0, y2: bottom, class: "grid" }),
      svg("text", { x: toX(value), y: bottom + 16, class: "tick", ...middle }, number(value)),
    ]),
    svg("line", { x1: RIGHT, x2: right, y1: bottom, y2: bottom, class: "axis" }),
    svg("text", { x: (RIGHT + right) / 2, y: height - 6, class: "label", ...middle }, x.label),
    rows.map(row),
  );
}

/** A mark at a place: a filled `disc`, a filled `square` or a `ring`. */
export function dot(shape, x, y) {
  if (shape === "square") return svg("rect", { x: x - 3.5, y: y - 3.5, width: 7, height: 7, class: "filled" });
  return svg("circle", { cx: x, cy: y, r: 3.8, class: shape === "ring" ? "ring" : "filled" });
}

/**
 * Where a figure stands between its limits: what is not allowed is hatched, the dot is the mean, the bar one standard deviation to
 * each side.
 */
export function margin({ title, min, max, mean, sd }, width = 100, height = 22) {
  const reach = Math.max(...[max && 1.5 * max, min && 2.2 * min, mean && mean + (sd ?? 0)].filter(Number.isFinite), 0);
  const low = Math.min(0, mean ?? 0, min ?? 0);
  const high = reach > low ? reach * 1.04 : low + 1;
  const to = axis({ low, high }, 1, width - 1);
  const middle = height / 2;
  const band = (from, until) =>
    svg("rect", {
      x: to(from),
      y: 4,
      width: Math.max(0, to(until) - to(from)),
      height: height - 8,
      class: "not-allowed",
    });
  const edge = (value) => svg("line", { x1: to(value), x2: to(value), y1: 1, y2: height - 1, class: "edge" });
  const has = (value) => value !== null && value !== undefined;
  return svg(
    "svg",
    { viewBox: `0 0 ${width} ${height}`, width, height, class: "margin", role: "img", "aria-label": title },
    svg("rect", { x: 1, y: 4, width: width - 2, height: height - 8, class: "track" }),
    has(min) && band(low, min),
    has(max) && band(max, high),
    has(min) && edge(min),
    has(max) && edge(max),
    has(mean) &&
      has(sd) &&
      svg("line", {
        x1: to(Math.max(low, mean - sd)),
        x2: to(Math.min(high, mean + sd)),
        y1: middle,
        y2: middle,
        class: "scatter",
      }),
    has(mean) && svg("circle", { cx: to(mean), cy: middle, r: 4.2, class: "dot" }),
  );
}
