/** What the canvases share: sizes, outlines, scale bar. */

import { nice } from "./charts.js";
import { amount } from "./words.js";

/** Fits a canvas to its place on the screen; gives its context, in CSS pixels, and its size. */
export function prepared(canvas) {
  const [width, height] = [canvas.clientWidth, canvas.clientHeight];
  const ratio = window.devicePixelRatio || 1;
  const [columns, rows] = [Math.round(width * ratio), Math.round(height * ratio)];
  if (canvas.width !== columns || canvas.height !== rows) [canvas.width, canvas.height] = [columns, rows];
  const context = canvas.getContext("2d");
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  return { context, width, height };
}

/** Adds rings or polylines to the path of a context; `to` leads from µm to pixels. */
export function trace(context, lines, to, isClosed) {
  context.beginPath();
  for (const line of lines) {
    line.forEach((point, k) => (k === 0 ? context.moveTo(...to(point)) : context.lineTo(...to(point))));
    if (isClosed) context.closePath();
  }
}

/** Whether a point lies within rings, holes left out. */
export function inside(rings, [x, y]) {
  let is = false;
  for (const ring of rings) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [[xi, yi], [xj, yj]] = [ring[i], ring[j]];
      if (yi > y !== yj > y && x < xi + ((y - yi) / (yj - yi)) * (xj - xi)) is = !is;
    }
  }
  return is;
}

/** Box around rings: [left, low, right, high]. */
export function box(rings) {
  const points = rings.flat();
  const [xs, ys] = [points.map((p) => p[0]), points.map((p) => p[1])];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

/** A bar of a round length in the lower left corner; `scale` in pixels per µm. */
export function scaleBar(context, scale, height) {
  const length = nice(110 / scale, Math.floor);
  const [wide, text] = [length * scale, length >= 1000 ? amount(length / 1000, "mm") : amount(length, "µm")];
  context.fillStyle = "rgba(16, 20, 24, .72)";
  context.fillRect(10, height - 42, Math.max(wide, context.measureText(text).width) + 20, 32);
  context.fillStyle = "#fff";
  context.fillRect(20, height - 19, wide, 3);
  context.textBaseline = "alphabetic";
  context.fillText(text, 20, height - 25);
}

/** Font of what is written on a canvas. */
export const FONT = '12.5px system-ui, "Segoe UI", "Helvetica Neue", Arial, sans-serif';
