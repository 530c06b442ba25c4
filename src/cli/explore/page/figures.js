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
        own.map(({ label, text, note, meaning }) =>
          el(
            "div",
            { title: meaning },
            el("dt", {}, capital(label)),
            el(
              "dd",
              {},
              text || note || "–",
              text && note && text !== note ? el("span", { class: "why" }, note) : null,
            ),
          ),
        ),
      ),
    );
  put(byId("figures"), places.map(group));
}
