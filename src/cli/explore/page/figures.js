/** All figures, grouped by place. */

import { byId, el, put } from "./dom.js";
import { capital } from "./words.js";

/** Figures over prints where there are some, else as expected; what prints do not tell yet is as expected. */
export function showFigures(expected, prints) {
  const figures = prints?.figures ?? expected?.figures ?? [];
  const place = (figure) => figure.place ?? "whole print";
  const places = [...new Set(figures.map(place))].map((name) => [
    name,
    figures.filter((figure) => place(figure) === name),
  ]);
  const group = ([place, own]) =>
    el(
      "section",
      {},
      el("h3", {}, capital(place)),
      el(
        "dl",
        { class: "facts" },
        own.map(({ label, text, scatter, note, meaning }) =>
          el(
            "div",
            { title: meaning },
            el("dt", {}, capital(label)),
            el(
              "dd",
              {},
              text || note || "–",
              scatter && el("span", { class: "why" }, `sd between prints ${scatter}`),
              text && note && text !== note ? el("span", { class: "why" }, note) : null,
            ),
          ),
        ),
      ),
    );
  const words = prints
    ? "Behind ±, or in brackets, stands the 95 % interval of the mean of the prints. How much prints differ from each other is their standard deviation (sd)."
    : "Means over prints, as expected without making any. How much prints differ from each other is their standard deviation (sd).";
  put(byId("figures"), el("p", { class: "note small" }, words), places.map(group));
}
