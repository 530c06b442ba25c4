/** Whether the setting is accepted, and the cautions. */

import { byId, el, put } from "./dom.js";
import { counted, percent, percents } from "./words.js";

/** Sign and class of each decision; never colour alone. */
const DECISIONS = { yes: ["✓", "yes"], no: ["✕", "no"], open: ["?", "open"], none: ["–", "open"] };
const SEVERITIES = { safety: "safety", caution: "caution", note: "note" };

/** Shows the verdict, first as expected, then as prints decide. `required` is the share of prints that must pass. */
export function showVerdict(expected, prints, required) {
  const decision = prints && prints.limits.length > 0 ? prints.decision : expectedDecision(expected);
  const [ownSign, mark] = DECISIONS[decision] ?? DECISIONS.none;
  const [, sign = ownSign, head] = (prints?.head ?? expected?.head ?? "Asking …").match(/^(?:([✓✕]) )?(.*)$/s);
  const rest = prints ? prints.rest : "Prints decide; they follow.";
  const cautions = all(expected, prints).filter((caution) => caution.decision && caution.severity !== "safety");
  byId("verdict").className = `verdict ${prints ? mark : "open"}`;
  byId("verdict").dataset.decision = decision;
  put(
    byId("verdict"),
    el("span", { class: "sign", "aria-hidden": "true" }, sign),
    el(
      "div",
      {},
      el("strong", {}, howSure(head, decision, prints, required)),
      el("p", {}, rest),
      prints && passBar(prints, required),
      cautions.map(({ text }) => el("p", { class: "with-caution" }, text)),
    ),
  );
  announce(
    `${prints ? `After ${counted(prints.prints, "print", "prints")}` : "Expected"}: ${head}`,
    `${decision} ${head} ${Boolean(prints)}`,
  );
}

/** The head with the interval of the share that passes, where it leaves the decision open. */
function howSure(head, decision, prints, required) {
  if (decision !== "open" || !Number.isFinite(prints?.share)) return head;
  return `${head}: ${percents(prints.share_low, prints.share_high)} of prints would pass, ${percent(required)} must`;
}

function expectedDecision(expected) {
  const known = (expected?.limits ?? []).map((limit) => limit.meets).filter((meets) => meets !== null);
  if (known.includes(false)) return "no";
  return known.length > 0 && known.length === expected.limits.length
    ? "yes"
    : expected?.limits.length
      ? "open"
      : "none";
}

let announced = "";
/** Tells a screen reader, but only of another verdict. */
function announce(text, verdict) {
  if (verdict === announced) return;
  announced = verdict;
  byId("announce").textContent = text;
}

/** The share of prints that pass, its interval, and what is required. */
function passBar({ share, share_low: low, share_high: high }, required) {
  if (share === null || share === undefined) return null;
  const at = (value) => `${100 * value}%`;
  const words = `${percent(share)} of prints pass; over many prints ${percents(low, high)}. Required: ${percent(required)}.`;
  return el(
    "div",
    { class: "pass", role: "img", "aria-label": words },
    el("div", { class: "interval", style: `left: ${at(low)}; width: ${at(high - low)}` }),
    el("div", { class: "middle", style: `left: ${at(share)}` }),
    el("div", { class: "required", style: `left: ${at(required)}` }, el("span", {}, `required ${percent(required)}`)),
  );
}

/**
 * All cautions: what prints say of the decision is less whole than what is said of the expected deposit, and what one print left out, only
 * that print says. `print` are the cautions of the print that is shown.
 */
function all(expected, prints, print = []) {
  const whole = (expected?.cautions ?? []).filter((caution) => caution.decision || !prints);
  const known = new Set(whole.map(({ id }) => id));
  const more = [...(prints?.cautions ?? []), ...print].filter(({ id }) => !known.has(id));
  return [...whole, ...more];
}

/** Shows the cautions: safety in its box, the others below; `print` are those of the print that is shown. */
export function showCautions(expected, prints, print) {
  const cautions = all(expected, prints, print);
  const safety = cautions.filter((caution) => caution.severity === "safety");
  const others = cautions.filter((caution) => caution.severity !== "safety");
  put(
    byId("safety-line"),
    safety.length > 0 &&
      el(
        "a",
        { href: "#cautions" },
        el("b", {}, `${counted(safety.length, "safety caution applies", "safety cautions apply")}`),
        " to this ink. Read before printing.",
      ),
  );
  const list = (those, mark) =>
    el(
      "ul",
      { class: mark },
      those.map(({ text, severity }) =>
        el(
          "li",
          {},
          mark === "cautions" && el("span", { class: "tag" }, `${SEVERITIES[severity] ?? severity}: `),
          text,
        ),
      ),
    );
  put(
    byId("cautions"),
    safety.length > 0 && el("div", { class: "safety" }, el("h3", {}, "Safety"), list(safety, "")),
    others.length > 0 && list(others, "cautions"),
    cautions.length === 0 && el("p", { class: "note" }, "None."),
  );
}
