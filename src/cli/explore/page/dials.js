/** The dials, in the order of a droplet's way. */

import { byId, button, el, rested } from "./dom.js";
import { amount, capital, dialName, number, parsed, plain, unitWords } from "./words.js";

/** A slider is logarithmic where its ends are farther apart than this. */
const LOG_FROM = 20;
/** Places on a logarithmic slider, and most on a plain one. */
const PLACES = 400;
/** Digits that a logarithmic slider sets. */
const DIGITS = 3;

/** How long typing rests until the number is taken, ms. */
const TYPING_RESTS_MS = 350;
/** Builds all dials; `turn(key, value)` is called at every change. */
export function createDials(scenario, state) {
  const dials = new Map(scenario.dials.map((dial) => [dial.key, createDial(dial, state)]));
  const groups = scenario.groups.map((group) =>
    createGroup(
      group,
      scenario.dials.filter((dial) => dial.group === group.id),
      dials,
    ),
  );
  byId("dials").replaceChildren(...groups.map((group) => group.element));
  byId("way").replaceChildren(...groups.map((group) => group.link));
  byId("find").oninput = () => find(byId("find").value.trim().toLowerCase());

  /** Shows the dials whose name, group or key holds a text; all for none. */
  function find(text) {
    const holds = ({ info, element }) =>
      (element.hidden = !`${dialName(info)} ${info.key} ${info.group}`.toLowerCase().includes(text));
    dials.forEach(holds);
    groups.forEach((group) => group.found(text));
  }

  return {
    /** Shows the values as they are set. `typed` is the dial whose input the user is in: it is left alone. */
    refresh(typed) {
      dials.forEach((dial) => dial.refresh(dial.info.key === typed));
      groups.forEach((group) => group.refresh(state));
    },
    /** What turns did is told no longer: the whole setting was replaced. */
    forget() {
      dials.forEach((dial) => dial.did(null));
    },
    /** What the last turn of a dial did. */
    did(key, text) {
      dials.get(key)?.did(text);
    },
    /**
     * Shows what is wrong, each text at its dial: that of its key, one that it names, or the one that was `turned` last. Gives the texts
     * that have no dial.
     */
    refuse(faults, turned) {
      const named = (text) => [...dials.keys()].find((key) => text.includes(`\`${key}\``));
      const of = ({ key, text }) => [key, named(text), turned].find((one) => dials.has(one));
      dials.forEach((dial) =>
        dial.refuse(faults.filter((fault) => of(fault) === dial.info.key).map((fault) => fault.text)),
      );
      return faults.filter((fault) => !of(fault)).map((fault) => fault.text);
    },
    /** What the program told of a dial; nothing of what is none. */
    info: (key) => dials.get(key)?.info,
    /** What a dial is called. */
    name: (key) => (dials.has(key) ? dialName(dials.get(key).info) : key),
    /** Brings a dial into view and focus. */
    show(key) {
      const dial = dials.get(key);
      if (!dial) return;
      find((byId("find").value = ""));
      for (let place = dial.element.parentElement; place; place = place.parentElement)
        if (place.tagName === "DETAILS") place.open = true;
      dial.element.scrollIntoView({ block: "center" });
      dial.input.focus({ preventScroll: true });
    },
  };
}

function createGroup(group, own, dials) {
  const elements = (isUsual) => own.filter((dial) => dial.usual === isUsual).map((dial) => dials.get(dial.key).element);
  const [usual, others] = [elements(true), elements(false)];
  const count = el("span", { class: "count" });
  const more =
    others.length > 0 && usual.length > 0
      ? el("details", { class: "more" }, el("summary", {}, `more (${others.length})`), others)
      : null;
  const body = more ? [...usual, more] : [...usual, ...others];
  const element = el(
    "details",
    { class: "group", id: `group-${group.id}`, open: usual.length > 0 },
    el("summary", {}, group.title, count),
    body,
  );
  /** Which parts were open before a search opened others. */
  let before = null;
  const mark = el("span", { class: "count" });
  const link = button(group.title, () => {
    element.open = true;
    element.scrollIntoView({ block: "start" });
    element.querySelector("summary").focus({ preventScroll: true });
  });
  link.append(mark);
  return {
    element,
    link: el("li", { hidden: own.length === 0 }, link),
    found(text) {
      const parts = [element, more].filter(Boolean);
      if (text) before ??= parts.map((part) => part.open);
      else parts.forEach((part, k) => before && (part.open = before[k]));
      if (!text) before = null;
      const isHit = (one) => !one.hidden;
      element.hidden = ![...usual, ...others].some(isHit);
      if (more) more.hidden = !others.some(isHit);
      if (text) [element, more].forEach((part) => part && (part.open = true));
    },
    refresh(state) {
      const changed = own.filter((dial) => state.isChanged(dial.key)).length;
      count.textContent = changed ? `${changed} changed` : "";
      mark.textContent = changed ? ` ${changed}` : "";
      link.setAttribute("aria-label", changed ? `${group.title}, ${changed} changed` : group.title);
    },
  };
}

function createDial(info, state) {
  const id = `dial-${info.key.replace(/[^\w]+/g, "-")}`;
  const way = slope(info);
  const name = dialName(info);
  const [low, high] = [amount(info.low, info.unit), amount(info.high, info.unit)];
  const input = el("input", {
    // Browsers read "36,5" in a number field as 365 or as nothing.
    type: "text",
    role: "spinbutton",
    id,
    data: { key: info.key },
    value: plain(info.value),
    inputmode: "decimal",
    autocomplete: "off",
    "aria-describedby": `${id}-unit ${id}-told`,
    oninput: () => typed(),
    onchange: () => taken(),
    onblur: () => refresh(false),
    onkeydown: (event) => {
      const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      if (!way) return;
      event.preventDefault();
      const next = Math.min(info.most ?? Infinity, Math.max(info.least ?? -Infinity, state.value(info.key) + way * info.step));
      input.value = plain(next);
      set(next);
    },
  });
  /** A number is complete when the typing rests or the field is left: on the way to 2000 stand 2, 20 and 200. */
  const typed = rested(TYPING_RESTS_MS, () => taken());
  const slider = el("input", {
    type: "range",
    min: 0,
    max: way.places,
    step: 1,
    data: { slider: info.key },
    "aria-label": `${name}, slider from ${low} to ${high}`,
    oninput: () => set(way.value(Number(slider.value))),
  });
  const help = el(
    "p",
    { class: "help", hidden: true },
    `${capital(info.help)}. `,
    el("span", {}, allowed(info)),
    " ",
    el("code", {}, info.key),
  );
  const helpButton = button(
    "?",
    () => {
      help.hidden = !help.hidden;
      helpButton.setAttribute("aria-expanded", String(!help.hidden));
    },
    { class: "help-button", "aria-expanded": "false", "aria-label": `What ${name} means` },
  );
  const back = button("", () => state.turn(info.key, info.value), {
    class: "back",
    "aria-label": `Set ${name} back to ${amount(info.value, info.unit, 10)}, as in the file`,
  });
  const origin = el(
    "span",
    {},
    info.unverified && el("span", { class: "flag" }, "unverified "),
    !info.given && el("span", { title: "not in the file" }, "default"),
  );
  const did = el("p", { class: "did", hidden: true });
  const fault = el("p", { class: "fault", role: "alert", hidden: true });
  const element = el(
    "div",
    { class: "dial", data: { dial: info.key } },
    el(
      "div",
      { class: "row" },
      el("label", { for: id }, info.label, info.of && el("small", {}, ` ${info.of}`)),
      helpButton,
      input,
      el("span", { class: "unit", id: `${id}-unit` }, unitWords(info.unit)),
    ),
    el("div", { class: "row ends" }, el("small", {}, number(info.low)), slider, el("small", {}, number(info.high))),
    el("div", { class: "marks", id: `${id}-told` }, origin, back),
    fault,
    did,
    help,
  );

  function taken() {
    typed.cancel();
    const value = parsed(input.value);
    // An empty field is on its way to a number.
    refuse(value === null && input.value.trim() !== "" ? [`"${input.value}" is not a number.`] : []);
    if (value !== null && value !== state.value(info.key)) set(value);
  }

  function refuse(texts) {
    fault.hidden = texts.length === 0;
    if (fault.textContent !== texts.join(" ")) fault.textContent = texts.join(" ");
    input.setAttribute("aria-invalid", String(texts.length > 0));
  }

  function set(value) {
    if (Number.isFinite(value)) state.turn(info.key, value);
  }

  function refresh(isTyped) {
    const value = state.value(info.key);
    if (!isTyped || document.activeElement !== input) input.value = plain(value);
    slider.value = way.place(value);
    input.setAttribute("aria-valuenow", plain(value));
    slider.setAttribute("aria-valuetext", amount(value, info.unit, 6));
    const isChanged = state.isChanged(info.key);
    element.classList.toggle("changed", isChanged);
    // Another value is no longer the default that nobody has measured.
    origin.hidden = isChanged;
    back.hidden = !isChanged;
    back.textContent = `changed, back to ${number(info.value, 10)}`;
  }

  return {
    info,
    element,
    input,
    refresh,
    did(text) {
      did.hidden = !text;
      did.textContent = text ?? "";
    },
    refuse,
  };
}

/** Which values are allowed, in words. */
function allowed({ least, most, unit, unverified }) {
  const has = (end) => end !== null && Math.abs(end) < 1e12;
  const words =
    has(least) && has(most)
      ? `${number(least)} to ${amount(most, unit)}`
      : has(least)
        ? `at least ${amount(least, unit)}`
        : has(most)
          ? `at most ${amount(most, unit)}`
          : "any number";
  return `Allowed: ${words}.${unverified ? " Unverified: a default that nobody has measured for your bench." : ""}`;
}

/** Leads from a slider's place to a value and back. */
function slope({ low, high, step, whole, least, most }) {
  const isLog = low > 0 && high / low > LOG_FROM;
  const places = isLog
    ? PLACES
    : Math.max(1, Math.min(1000, Math.round((high - low) / (step || (high - low) / PLACES))));
  const raw = isLog
    ? (place) => low * (high / low) ** (place / places)
    : (place) => low + ((high - low) * place) / places;
  const rounded = (value) =>
    whole ? Math.round(value) : isLog ? Number(value.toPrecision(DIGITS)) : Number(value.toPrecision(10));
  return {
    places,
    value: (place) => Math.min(most ?? Infinity, Math.max(least ?? -Infinity, rounded(raw(place)))),
    place: (value) =>
      Math.round(
        places * (isLog ? Math.log(Math.max(value, low) / low) / Math.log(high / low) : (value - low) / (high - low)),
      ),
  };
}
