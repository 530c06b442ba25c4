/** What one print tells beyond its map: profiles, sizes, mass budget. */

import { chart } from "./charts.js";
import { byId, el, put } from "./dom.js";
import { between } from "./map.js";
import { capital } from "./words.js";

/** Points along a cut through the map. */
const POINTS = 401;
/** A profile is shown to this many times the reach of what is thicker than a part of its peak. */
const [MARGIN, FAINT] = [1.3, 0.02];
const MARKS = ["s2", "s1", "s3", "s4", "s5", "s6"];

/** Thickness along a cut through a map; position counts from the cut's middle, µm. */
function along(picture, { from, to }) {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const point = (k) => {
    const share = k / (POINTS - 1);
    const at = [from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])];
    return [(share - 0.5) * length, between(picture, "thickness_nm", at)];
  };
  return Array.from({ length: POINTS }, (_, k) => point(k)).filter((p) => Number.isFinite(p[1]));
}

/** Profiles across each item: expected beside that of a print. Either may be `null`. */
export function showProfiles(expected, print) {
  const cuts = new Map((expected?.maps.thickness_nm ? expected.head.cuts : []).map((cut) => [cut.item, cut]));
  const profiles = new Map((print?.head.profiles ?? []).map((profile) => [profile.item, profile]));
  const items = [...new Set([...cuts.keys(), ...profiles.keys()])];
  put(
    byId("profiles"),
    items.map((item) =>
      profile(item, cuts.get(item) && along(expected, cuts.get(item)), profiles.get(item), print?.number),
    ),
  );
}

function profile(item, cut, one, number) {
  const series = [
    one && {
      name: `print ${number + 1}, mean along the item`,
      mark: "s1",
      points: one.across_um.map((x, k) => [x, one.thickness_nm[k]]),
      isArea: true,
    },
    cut?.length && { name: "expected, on one cut", mark: "s2", points: cut },
  ].filter(Boolean);
  if (series.length === 0) return null;
  const points = series.flatMap((s) => s.points);
  const xs = points.map((p) => p[0]);
  const top = Math.max(...points.map((p) => p[1]), 1e-3);
  const reach = MARGIN * Math.max(...points.filter((p) => p[1] > FAINT * top).map((p) => Math.abs(p[0])), 1e-3);
  const x = {
    label: `across ${item} (µm)`,
    low: Math.max(-reach, Math.min(...xs)),
    high: Math.min(reach, Math.max(...xs)),
  };
  for (const one of series) one.points = one.points.filter(([at]) => at >= x.low && at <= x.high);
  return figure(
    `Across ${item}`,
    chart({ title: `Thickness across ${item}`, x, y: { label: "thickness (nm)", low: 0, high: 1.05 * top }, series }),
    series,
  );
}

function figure(title, drawing, series) {
  const keys = series.map(({ name, mark, isDashed }) =>
    el("span", { class: "key" }, el("span", { class: `keyline ${mark}${isDashed ? " dashed" : ""}` }), name),
  );
  return el("figure", {}, el("h3", { class: "card" }, title), drawing, el("figcaption", {}, keys));
}

/** Sizes by stage. */
export function showSizes(sizes) {
  put(
    byId("sizes"),
    Object.values(sizes ?? {})
      .flat()
      .filter((one) => one?.stages.length)
      .map(sizesOf),
  );
}

function sizesOf({ title, unit, stages }) {
  const series = stages.map(({ name, edges, shares }, k) => ({
    name,
    mark: MARKS[k % MARKS.length],
    isDashed: k % 2 === 1,
    isSteps: true,
    points: edges.map((edge, i) => [edge, 100 * (shares[Math.min(i, shares.length - 1)] ?? 0)]),
  }));
  const seen = series.flatMap((s) => s.points).filter(([x, share]) => share > 0.05 && x > 0);
  if (seen.length === 0) return null;
  const xs = seen.map((p) => p[0]);
  const [low, high] = [Math.min(...xs) / 1.1, Math.max(...xs) * 1.25];
  for (const one of series) one.points = one.points.filter(([x]) => x >= low && x <= high);
  const top = Math.max(...seen.map((p) => p[1]));
  const drawing = chart({
    title,
    x: { label: `diameter (${unit})`, low, high, isLog: true },
    y: { label: "share of a size class (%)", low: 0, high: 1.05 * top },
    series,
  });
  return figure(title, drawing, series);
}

/** Where the mass went, in the order of a droplet's way: each bar begins where the one above ends, so that together they are the whole. */
export function showBudget(budget) {
  const groups = budget?.groups ?? [];
  if (groups.length === 0) return put(byId("budget"));
  const titles = ["where it went", "in the order of its way", "share", "mass"];
  const before = (parts, k) => parts.slice(0, k).reduce((sum, { share }) => sum + share, 0);
  const rows = groups.flatMap((group, k) => {
    const from = before(groups, k);
    return [
      budgetRow(group, from, "whole"),
      ...group.rows.map((part, i) => budgetRow(part, from + before(group.rows, i), "part")),
    ];
  });
  const all = { name: "left the vial", share: before(groups, groups.length), text: budget.text };
  put(
    byId("budget"),
    el("thead", {}, el("tr", {}, titles.map((title, k) => el("th", { scope: "col", class: k > 1 && "n" }, title)))),
    el("tbody", {}, rows),
    el("tfoot", {}, budgetRow(all, 0, "whole")),
  );
}

/** A row whose bar begins at the share `from`; `mark` tells a whole from its parts. */
function budgetRow({ name, share, text }, from, mark) {
  const bar = el("div", {
    class: `bar ${mark === "whole" ? "s0" : "s2"}`,
    // The smallest still shows.
    style: `margin-left: min(${100 * from}%, 100% - 2px); width: ${100 * share}%`,
  });
  return el(
    "tr",
    { class: mark },
    el("th", { scope: "row" }, capital(name)),
    el("td", { class: "track-cell" }, share > 0 && el("div", { class: "track" }, bar)),
    el("td", { class: "n" }, hundredths(share)),
    el("td", { class: "n" }, text),
  );
}

/** A share to a hundredth of a per cent, so that shares add up as they are shown. */
const hundredths = (share) =>
  share > 0 && share < 5e-5 ? "<\u00a00.01\u00a0%" : `${(100 * share).toFixed(2)}\u00a0%`;
