/** Asking for a sweep or an advice. */

import { post } from "./ask.js";
import { byId, el, put } from "./dom.js";
import { NUMBER, amount, dialName, parsed, plain, unitWords } from "./words.js";

/** `started()` is called when a job has begun. */
export function createPlans(scenario, state, { started }) {
  const dials = new Map(scenario.dials.map((dial) => [dial.key, dial]));
  for (const close of document.querySelectorAll("[data-close]")) close.onclick = () => close.closest("dialog").close();
  createSweep();
  createAdvice();

  function createSweep() {
    const axes = [axis(1, false), axis(2, true)];
    byId("sweep-axes").append(...axes.map((one) => one.element));
    byId("sweep").onclick = () => {
      axes.forEach((one) => one.refresh());
      open("sweep");
    };
    send("sweep", () => ({
      values: state.values(),
      axes: axes.map((one) => one.read()).filter(Boolean),
      prints: Number(byId("sweep-prints").value),
    }));
  }

  /** Fields of one axis. */
  function axis(place, mayBeNone) {
    const select = el(
      "select",
      { "aria-label": `Axis ${place}`, onchange: refresh },
      mayBeNone && el("option", { value: "" }, "none"),
      options(),
    );
    const [least, most, points] = ["from", "to", "points"].map((name) =>
      decimal({ "aria-label": `Axis ${place}, ${name}` }),
    );
    const log = el("input", { type: "checkbox" });
    const unit = el("span", { class: "unit" });
    points.value = 7;
    const usual = scenario.dials.filter((dial) => dial.usual);
    select.value =
      mayBeNone ? "" : (usual.find((dial) => dial.key === "flow.sheath_sccm") ?? usual[0] ?? scenario.dials[0]).key;
    const fields = el(
      "span",
      { class: "fields" },
      label("from", least),
      label("to", most),
      unit,
      label("points", points),
      el("label", {}, log, " logarithmic"),
    );

    /** Fills in a range around the present value. */
    function refresh() {
      const dial = dials.get(select.value);
      fields.hidden = !dial;
      for (const input of [least, most, points]) input.disabled = !dial;
      if (!dial) return;
      const value = state.value(dial.key);
      const around =
        value > 0
          ? [Math.max(dial.least ?? 0, value / 2), Math.min(dial.most ?? Infinity, value * 2)]
          : [dial.low, dial.high];
      least.value = plain(Number(around[0].toPrecision(3)));
      most.value = plain(Number(around[1].toPrecision(3)));
      unit.textContent = unitWords(dial.unit);
    }

    return {
      refresh,
      element: el("fieldset", {}, el("legend", {}, place === 1 ? "Across" : "Up"), select, fields),
      read: () =>
        select.value && {
          key: select.value,
          least: parsed(least.value),
          most: parsed(most.value),
          points: parsed(points.value),
          log: log.checked,
        },
    };
  }

  /** All dials, by group. */
  function options() {
    const group = ({ id, title }) => {
      const own = scenario.dials.filter((dial) => dial.group === id);
      own.sort((a, b) => Number(b.usual) - Number(a.usual));
      return (
        own.length > 0 &&
        el(
          "optgroup",
          { label: title },
          own.map((dial) => el("option", { value: dial.key }, dialName(dial))),
        )
      );
    };
    return scenario.groups.filter(({ id }) => id !== "limits").map(group);
  }

  function createAdvice() {
    const rows = scenario.dials.filter((dial) => dial.usual && !dial.unverified && dial.group !== "limits").map(freeRow);
    byId("advice-free").append(...rows.map((row) => row.element));
    byId("advice").onclick = () => {
      rows.forEach((row) => row.refresh());
      open("advice");
    };
    send("advice", () => ({ values: state.values(), free: rows.map((row) => row.read()).filter(Boolean) }));
  }

  /** A setting that an advice may change. */
  function freeRow(dial) {
    const field = (name, value) =>
      decimal({
        value: plain(Number(value.toPrecision(3))),
        "aria-label": `${dialName(dial)}, ${name}`,
        disabled: true,
      });
    const [least, most, step] = [field("from", dial.low), field("to", dial.high), field("step", dial.step)];
    const now = el("span", {});
    const box = el("input", {
      type: "checkbox",
      onchange: () => [least, most, step].forEach((input) => (input.disabled = !box.checked)),
    });
    return {
      element: el(
        "tr",
        {},
        el("td", {}, el("label", {}, box, ` ${dialName(dial)}`), el("span", { class: "why" }, now)),
        [least, most, step].map((input) => el("td", {}, input)),
        el("td", {}, unitWords(dial.unit)),
      ),
      refresh: () => (now.textContent = `now ${amount(state.value(dial.key), dial.unit)}`),
      read: () =>
        box.checked && {
          key: dial.key,
          least: parsed(least.value),
          most: parsed(most.value),
          step: parsed(step.value),
        },
    };
  }

  function open(kind) {
    put(byId(`${kind}-told`));
    byId(`${kind}-dialog`).showModal();
  }

  /** Sends what a dialog holds; it stays open if the program refuses it. */
  function send(kind, body) {
    byId(`${kind}-form`).onsubmit = async (event) => {
      event.preventDefault();
      try {
        await post(`/api/${kind}`, body());
        byId(`${kind}-dialog`).close();
        started(kind);
      } catch (error) {
        const faults = (error.faults ?? []).map((fault) => fault.text).join(" ");
        put(byId(`${kind}-told`), el("p", { class: "fault", role: "alert" }, faults || error.message));
      }
    };
  }
}

const label = (text, input) => el("label", {}, `${text} `, input);

/** A field for a number; see `parsed`. */
const decimal = (properties) =>
  el("input", {
    type: "text",
    inputmode: "decimal",
    pattern: NUMBER,
    title: "a number",
    required: true,
    autocomplete: "off",
    ...properties,
  });
