/** The deposit of one print at particle scale, as seen from above. */

import { FONT, box, prepared, scaleBar, trace } from "./canvas.js";
import { colour, css, tint } from "./colours.js";
import { byId, el, put } from "./dom.js";
import { amount, counted, number } from "./words.js";

/** Edges of the square that can be chosen, µm. */
const EDGES = [5, 10, 20, 40, 80, 160];
/** The square's edge at first, as a multiple of the target's smaller side. */
const OF_TARGET = 1.3;
/** Shades of height. */
const SHADES = 24;
/** Size of a particle's stamp, px. */
const STAMP = 64;
/** Greys of what carries the particles, what lies on top last. */
const GROUNDS = [
  ["window", "#2e3034"],
  ["keep-out", "#3a3a3c"],
  ["other", "#2a2b2e"],
  ["electrode", "#525458"],
  ["counter", "#525458"],
  ["target", "#525458"],
];

/** `moved` is called when another part of the chip shall be drawn. */
export function createParticles(moved) {
  const canvas = byId("particles");
  const edge = byId("particles-edge");
  edge.append(...EDGES.map((value) => el("option", { value }, `${value} µm`)));
  let centre = null;
  let picture = null;
  edge.onchange = () => moved();
  byId("particles-colour").onchange = draw;
  new ResizeObserver(draw).observe(canvas);

  function draw() {
    if (!picture?.particles) return;
    const { context, width, height } = prepared(canvas);
    context.font = FONT;
    const [x0, y0, x1, y1] = picture.part;
    const scale = Math.min(width / (x1 - x0), height / (y1 - y0));
    const to = ([x, y]) => [(x - x0) * scale, height - (y - y0) * scale];
    ground(context, picture.head.regions, to, width, height);
    stamp(context, picture, byId("particles-colour").value === "height", to, scale);
    scaleBar(context, scale, height);
    legend();
  }

  function legend() {
    const { head, particles, number: print, part } = picture;
    const byHeight = byId("particles-colour").value === "height";
    if (!head.particles.are_kept)
      return put(byId("particles-words"), "Too many particles land in a print for each to be kept.");
    const few = head.particles.shown < head.particles.count ? `, ${number(head.particles.shown, 6)} of them drawn` : "";
    const side = amount(part[2] - part[0], "µm");
    const said = `A: print ${print + 1}, ${side} × ${side}, ${counted(number(head.particles.count, 9), "particle", "particles")}${few}. Particles are drawn as spheres; real grains are not round. Double-click on the map, or Enter, looks elsewhere.`;
    const keys = byHeight
      ? [el("span", { class: "key" }, `dark low, bright high: up to ${amount(highest(particles.z_nm), "nm")}`)]
      : head.powders.map((name, k) =>
          el("span", { class: "key" }, el("i", { style: `background: ${css(tint(k))}` }), name),
        );
    put(byId("particles-words"), el("span", {}, said), " ", keys);
  }

  return {
    /** The square: [x0, y0, x1, y1], µm. */
    part(regions) {
      const target = regions.find((region) => region.role === "target") ?? regions[0];
      if (!centre) {
        const [x0, y0, x1, y1] = target ? box(target.outline) : [-20, -20, 20, 20];
        centre = [(x0 + x1) / 2, (y0 + y1) / 2];
        const wanted = OF_TARGET * Math.min(x1 - x0, y1 - y0);
        edge.value = EDGES.find((value) => value >= wanted) ?? EDGES.at(-1);
      }
      const half = Number(edge.value) / 2;
      return [centre[0] - half, centre[1] - half, centre[0] + half, centre[1] + half];
    },
    look(at) {
      centre = at;
      moved();
    },
    show(next) {
      picture = next;
      draw();
    },
  };
}

const highest = (heights) => heights.reduce((a, b) => Math.max(a, b), 0);

function ground(context, regions, to, width, height) {
  context.fillStyle = "#1e1f22";
  context.fillRect(0, 0, width, height);
  for (const [role, grey] of GROUNDS) {
    for (const region of regions.filter((one) => one.role === role)) {
      trace(context, region.outline, to, true);
      context.fillStyle = grey;
      context.fill("evenodd");
      context.strokeStyle = "rgba(255, 255, 255, .25)";
      context.stroke();
    }
  }
}

/** All particles, the lower first. */
function stamp(context, { particles }, byHeight, to, scale) {
  const { x_um: x, y_um: y, z_nm: z, d_nm: d, powder } = particles;
  const order = Uint32Array.from(z.keys()).sort((a, b) => z[a] - z[b]);
  const top = highest(z) || 1;
  const stamps = new Map();
  const of = (mark, shade) => stamps.get(mark) ?? stamps.set(mark, sphere(shade())).get(mark);
  for (const k of order) {
    const level = Math.round((SHADES * z[k]) / top);
    const picture = byHeight ? of(level, () => colour(level / SHADES)) : of(powder[k], () => tint(powder[k]));
    const wide = Math.max(1.2, (d[k] / 1000) * scale);
    const [px, py] = to([x[k], y[k]]);
    context.drawImage(picture, px - wide / 2, py - wide / 2, wide, wide);
  }
}

/** A shaded disc with a dark rim. */
function sphere(base) {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = STAMP;
  const context = canvas.getContext("2d");
  const middle = STAMP / 2;
  const light = (share) => css(base.map((c) => Math.min(255, Math.round(c * share))));
  const shade = context.createRadialGradient(middle * 0.8, middle * 0.8, 0, middle, middle, middle - 1);
  shade.addColorStop(0, light(0.82));
  shade.addColorStop(0.75, light(1));
  shade.addColorStop(0.9, light(0.8));
  shade.addColorStop(1, light(0.35));
  context.fillStyle = shade;
  context.arc(middle, middle, middle - 1, 0, 2 * Math.PI);
  context.fill();
  return canvas;
}
