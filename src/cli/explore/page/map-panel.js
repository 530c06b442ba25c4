/** The map with its buttons, colour bar and readout. */

import { DECADES, FAINTEST, gradient } from "./colours.js";
import { ticks } from "./charts.js";
import { byId, el, put, rested } from "./dom.js";
import { createMap } from "./map.js";
import { handleMap } from "./map-hand.js";
import { amount, number, percent, position } from "./words.js";

/** What a map can show: its name, its unit, and the factor to it. */
const KINDS = {
  thickness_nm: { name: "Thickness", label: "solid thickness (nm)", factor: 1 },
  coverage: { name: "Coverage", label: "covered share (%)", factor: 100 },
  per_um2: { name: "Particles", label: "particles per µm²", factor: 1 },
};
/** How long a change may take before the old map is dimmed, ms. */
const DIMMED_AFTER_MS = 150;
/** How long the view rests before a finer map is asked for, ms. */
const VIEW_RESTS_MS = 250;

/** `askDetail` is called with the part of the chip that is seen, `pick` with a place to be drawn larger. */
export function createMapPanel({ askDetail, pick }) {
  const canvas = byId("map");
  const detailWanted = rested(VIEW_RESTS_MS, () => map.windowSeen() && askDetail(map.windowSeen()));
  const map = createMap(canvas, detailWanted);
  let picture = null;
  let held = null;
  let dimming = 0;
  let lastRead = null;

  handleMap(canvas, map, { read, pick });
  byId("zoom-in").onclick = () => map.zoom(1.5);
  byId("zoom-out").onclick = () => map.zoom(1 / 1.5);
  byId("fit").onclick = () => map.fit();
  byId("show-path").onchange = (event) => map.set({ hasPath: event.target.checked });
  byId("log-scale").onchange = scale;
  byId("hold-scale").onchange = () => {
    held = byId("hold-scale").checked ? { [what()]: top() } : null;
    scale();
  };
  byId("map-kind").onchange = () => {
    held = null;
    byId("hold-scale").checked = false;
    scale();
  };

  const what = () => byId("map-kind").querySelector("input:checked").value;

  /** Top of the scale of what is shown of a map. */
  function top(of = picture) {
    if (held && what() in held) return held[what()];
    if (what() === "thickness_nm") return of.head.top_nm;
    if (what() === "per_um2") return usualMost(of.maps.per_um2 ?? []);
    const most = of.maps.coverage?.reduce((a, b) => Math.max(a, b), 0) ?? 1;
    return Math.max(0.01, Math.min(1, Math.ceil(most * 10 - 1e-6) / 10));
  }

  function scale() {
    byId("colour-bar").hidden = !picture?.maps[what()];
    if (!picture?.maps[what()]) return;
    const isLog = byId("log-scale").checked;
    map.set({ what: what(), top: top(), isLog });
    const { label, factor } = KINDS[what()];
    const square = what() === "per_um2" && picture.head.square_um;
    const bright = top() * factor;
    const at = isLog ? (value) => 1 + Math.log10(value / bright) / DECADES : (value) => value / bright;
    const faintest = bright * (isLog ? 10 ** (-DECADES * (1 - FAINTEST)) : FAINTEST);
    const values = isLog ? [0, 1, 2, 3, 4].map((k) => bright / 10 ** k) : ticks(0, bright, 5);
    const marks = values.map((value) => el("span", { style: `left: ${100 * at(value)}%` }, number(value, 2)));
    put(
      byId("colour-bar"),
      el("div", { class: "scale", style: `background: ${gradient()}` }),
      el("div", { class: "ticks" }, marks),
      el("div", { class: "label" }, `${label}${square ? `, in squares of ${amount(square, "µm", 2)}` : ""}; black: below ${number(faintest, 1)}`),
    );
  }

  function read(at) {
    lastRead = at;
    const text = at
      ? told(at)
      : "Point at the map, or use the keyboard on it: arrows move it, + and − change its scale, shift and an arrow move the cursor.";
    byId("readout").textContent = text;
  }

  function told(at) {
    const { values, regions } = map.read(at);
    const parts = [`x ${position(at[0])}, y ${position(at[1])}`];
    if (values) {
      if (values.thickness_nm !== undefined) parts.push(`${amount(values.thickness_nm, "nm")} thick`);
      if (values.coverage !== undefined) parts.push(`${percent(values.coverage)} covered`);
      if (values.per_um2 !== undefined) parts.push(`${number(values.per_um2, 2)} particles per µm²`);
    } else parts.push("beyond the map");
    if (regions.length) parts.push(`in ${regions.join(", ")}`);
    return parts.join(" · ");
  }

  return {
    map,
    /** Another map: of another setting or print, or a finer one. */
    show(next, isDetail) {
      map.show(next, isDetail);
      if (!isDetail) {
        picture = next;
        for (const input of byId("map-kind").querySelectorAll("input"))
          input.parentElement.hidden = !(input.value in next.maps);
        scale();
        detailWanted();
      }
      if (lastRead) read(lastRead);
    },
    /** While a map is on its way, the old one is dimmed. */
    busy(isBusy) {
      clearTimeout(dimming);
      const figure = byId("map-figure");
      if (!isBusy) figure.classList.remove("waiting");
      else dimming = setTimeout(() => figure.classList.add("waiting"), DIMMED_AFTER_MS);
    },
    picture: () => picture,
    /** A small picture of a map of what is shown. */
    thumbnail: (of, size) => map.thumbnail(of, size, top(of)),
  };
}

/** The 99th percentile of what is not bare, rounded up to two digits: a few full pixels do not darken everything else. */
function usualMost(values) {
  const all = values.filter((value) => value > 0).sort();
  if (all.length === 0) return 1;
  const most = all[Math.floor(0.99 * (all.length - 1))];
  const digit = 10 ** (Math.floor(Math.log10(most)) - 1);
  return Number((Math.ceil(most / digit - 1e-6) * digit).toPrecision(2));
}
