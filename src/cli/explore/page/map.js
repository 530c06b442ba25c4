/** The chip from above, true to scale. */

import { BARE, BEYOND, FAINTEST, FRAME, colour, place } from "./colours.js";
import { FONT, box, inside, prepared, scaleBar, trace } from "./canvas.js";

/** Smallest and largest scale, pixels per µm. */
const SCALES = [0.01, 400];
/** How outlines of each role are dashed: solid for the target, dashed for other electrodes, dotted for windows, dash-dot for the rest. */
const DASHES = {
  target: [],
  counter: [],
  electrode: [7, 4],
  window: [1.5, 3],
  "keep-out": [8, 3, 1.5, 3],
  other: [3, 3],
};

/** A map on a canvas. `moved` is called when another part of the chip is shown. */
export function createMap(canvas, moved) {
  const shown = { what: "thickness_nm", top: 1, isLog: false, hasPath: true };
  let view = null;
  /** Whether all of the map is seen, and shall be at another size of the canvas. */
  let isFitted = false;
  let whole = null;
  let detail = null;
  let cursor = null;
  let frame = null;
  let due = 0;

  /** Draws once before the next picture of the screen. */
  function draw() {
    due ||= requestAnimationFrame(() => {
      due = 0;
      paint();
    });
  }

  const toScreen = ([x, y]) => [
    canvas.clientWidth / 2 + (x - view.x) * view.scale,
    canvas.clientHeight / 2 - (y - view.y) * view.scale,
  ];
  const toChip = ([px, py]) => [
    view.x + (px - canvas.clientWidth / 2) / view.scale,
    view.y - (py - canvas.clientHeight / 2) / view.scale,
  ];

  function fit() {
    if (!whole) return;
    const [x0, y0, x1, y1] = extent(whole.head);
    const scale = Math.min(canvas.clientWidth / (x1 - x0), canvas.clientHeight / (y1 - y0));
    look({ x: (x0 + x1) / 2, y: (y0 + y1) / 2, scale });
    isFitted = true;
  }

  function look(next) {
    view = { ...next, scale: Math.min(SCALES[1], Math.max(SCALES[0], next.scale)) };
    isFitted = false;
    draw();
    moved();
  }

  /** Shows more or less of the chip around a place on the screen that stays where it is. */
  function zoom(factor, at = [canvas.clientWidth / 2, canvas.clientHeight / 2]) {
    if (!view) return;
    const [x, y] = toChip(at);
    const scale = Math.min(SCALES[1], Math.max(SCALES[0], view.scale * factor));
    const share = view.scale / scale;
    look({ x: x + (view.x - x) * share, y: y + (view.y - y) * share, scale });
  }

  function pan(dx, dy) {
    if (view) look({ ...view, x: view.x - dx / view.scale, y: view.y + dy / view.scale });
  }

  function paint() {
    if (!whole || !view) return;
    const { context, width, height } = prepared(canvas);
    context.font = FONT;
    context.fillStyle = BEYOND;
    context.fillRect(0, 0, width, height);
    for (const layer of [whole, detail]) if (layer) paintLayer(context, layer);
    if (shown.hasPath) paintPath(context);
    whole.head.regions.forEach((region) => paintRegion(context, region));
    if (frame) paintFrame(context);
    scaleBar(context, view.scale, height);
    if (cursor) paintCursor(context);
  }

  function paintLayer(context, layer) {
    layer.image ??= coloured(layer, shown);
    if (!layer.image) return;
    const [x0, y0, x1, y1] = extent(layer.head);
    const [left, top] = toScreen([x0, y1]);
    const [right, bottom] = toScreen([x1, y0]);
    context.imageSmoothingEnabled = view.scale * layer.head.pitch < 3;
    context.drawImage(layer.image, left, top, right - left, bottom - top);
  }

  function paintPath(context) {
    trace(context, whole.head.path, toScreen, false);
    context.setLineDash([]);
    context.strokeStyle = "rgba(255, 255, 255, .45)";
    context.lineWidth = 1;
    context.stroke();
  }

  function paintRegion(context, { name, role, outline }) {
    const isTarget = role === "target";
    trace(context, outline, toScreen, true);
    context.setLineDash([]);
    stroke(context, "rgba(16, 20, 24, .55)", isTarget ? 4 : 3);
    context.setLineDash(DASHES[role] ?? DASHES.other);
    stroke(context, "#fff", isTarget ? 2 : 1.4);
    context.setLineDash([]);
    const [x0, y0, x1, y1] = box(outline);
    const [[left, top], [right, bottom]] = [toScreen([x0, y1]), toScreen([x1, y0])];
    const fits = right - left > context.measureText(name).width + 10 && bottom - top > 22;
    const isWithin = fits && (role === "window" || role === "keep-out");
    halo(context, name, left + (isWithin ? 5 : 0), isWithin ? top + 15 : top - 6);
  }

  function paintFrame(context) {
    const [x0, y0, x1, y1] = frame;
    const [[left, top], [right, bottom]] = [toScreen([x0, y1]), toScreen([x1, y0])];
    context.lineWidth = 1.8;
    context.strokeStyle = FRAME;
    context.strokeRect(left, top, right - left, bottom - top);
    halo(context, "A", right + 5, top + 11);
  }

  function paintCursor(context) {
    const [x, y] = toScreen(cursor);
    trace(
      context,
      [
        [
          [x - 9, y],
          [x + 9, y],
        ],
        [
          [x, y - 9],
          [x, y + 9],
        ],
      ],
      (p) => p,
      false,
    );
    stroke(context, "rgba(16, 20, 24, .8)", 4);
    stroke(context, "#fff", 1.6);
  }

  new ResizeObserver(() => (isFitted ? fit() : draw())).observe(canvas);

  return {
    draw,
    fit,
    zoom,
    pan,
    toChip,
    toScreen,
    /** The whole map, or with `isDetail` a finer one of what is seen now. */
    show(picture, isDetail) {
      if (isDetail) detail = picture;
      else [whole, detail] = [picture, null];
      if (view) draw();
      else fit();
    },
    /** Changes what is shown: `what`, `top`, `isLog`, `hasPath`. */
    set(changes) {
      const isOther = ["what", "top", "isLog"].some((name) => name in changes && changes[name] !== shown[name]);
      Object.assign(shown, changes);
      if (isOther) for (const layer of [whole, detail]) if (layer) layer.image = null;
      draw();
    },
    /** Marks what is drawn larger elsewhere: [x0, y0, x1, y1] in µm. */
    mark(part) {
      frame = part;
      draw();
    },
    point(at) {
      cursor = at;
      draw();
    },
    cursor: () => cursor,
    /** What is seen: [x0, y0, x1, y1] in µm, within the map; `null` if the whole map is as fine as the screen. */
    windowSeen() {
      if (!whole || !view || view.scale * whole.head.pitch <= 1.5) return null;
      const [left, high] = toChip([0, 0]);
      const [right, low] = toChip([canvas.clientWidth, canvas.clientHeight]);
      const [x0, y0, x1, y1] = extent(whole.head);
      const part = [Math.max(left, x0), Math.max(low, y0), Math.min(right, x1), Math.min(high, y1)];
      return part[2] > part[0] && part[3] > part[1] ? part : null;
    },
    /** Values at a place, from the finest map that covers it, and the regions there. */
    read(at) {
      const values = [detail, whole].map((layer) => layer && valuesAt(layer, at)).find(Boolean) ?? null;
      return { values, regions: (whole?.head.regions ?? []).filter((r) => inside(r.outline, at)).map((r) => r.name) };
    },
    /** A small picture of a whole map with a scale up to `top`, as an address. */
    thumbnail(picture, size, top) {
      const small = document.createElement("canvas");
      [small.width, small.height] = [size, Math.round((size * picture.head.rows) / picture.head.columns)];
      // Not the image that is kept: that of a map which is not on the screen may be of another kind or scale.
      const image = coloured(picture, { ...shown, top });
      if (image) small.getContext("2d").drawImage(image, 0, 0, small.width, small.height);
      return small.toDataURL();
    },
  };
}

/** What a map covers: [x0, y0, x1, y1], µm. */
export function extent({ x0, y0, columns, rows, pitch }) {
  return [x0, y0, x0 + columns * pitch, y0 + rows * pitch];
}

/** Values of all maps of a picture at a place; `null` beside it. */
export function valuesAt({ head, maps }, [x, y]) {
  const [column, row] = [Math.floor((x - head.x0) / head.pitch), Math.floor((y - head.y0) / head.pitch)];
  if (column < 0 || row < 0 || column >= head.columns || row >= head.rows) return null;
  return Object.fromEntries(Object.entries(maps).map(([name, map]) => [name, map[row * head.columns + column]]));
}

/** Value of one map between the middles of its pixels; `NaN` beside it. */
export function between(picture, name, [x, y]) {
  const { pitch } = picture.head;
  const [column, row] = [(x - picture.head.x0) / pitch - 0.5, (y - picture.head.y0) / pitch - 0.5];
  const [left, low] = [Math.floor(column), Math.floor(row)];
  const at = (i, j) =>
    valuesAt(picture, [picture.head.x0 + (i + 0.5) * pitch, picture.head.y0 + (j + 0.5) * pitch])?.[name] ?? NaN;
  const along = (j) => at(left, j) + (column - left) * (at(left + 1, j) - at(left, j));
  return along(low) + (row - low) * (along(low + 1) - along(low));
}

/** A map in colours; `null` if the picture does not hold it. */
function coloured({ head, maps }, { what, top, isLog }) {
  const map = maps[what];
  if (!map) return null;
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [head.columns, head.rows];
  const context = canvas.getContext("2d");
  const image = context.createImageData(head.columns, head.rows);
  const palette = Array.from({ length: 256 }, (_, k) => colour(k / 255));
  for (let row = 0; row < head.rows; row++) {
    for (let column = 0; column < head.columns; column++) {
      const share = place(map[row * head.columns + column], top, isLog);
      const [r, g, b] = share > FAINTEST ? palette[Math.round(255 * Math.min(1, share))] : BARE;
      image.data.set([r, g, b, 255], 4 * ((head.rows - 1 - row) * head.columns + column));
    }
  }
  context.putImageData(image, 0, 0);
  return canvas;
}

function stroke(context, style, width) {
  context.strokeStyle = style;
  context.lineWidth = width;
  context.stroke();
}

/** Text that is read on any ground. */
function halo(context, text, x, y) {
  context.lineJoin = "round";
  context.strokeStyle = "#101418";
  context.lineWidth = 3;
  context.strokeText(text, x, y);
  context.fillStyle = "#fff";
  context.fillText(text, x, y);
}
