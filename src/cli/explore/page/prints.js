/** Prints of the setting as they accumulate, and the slider through them. */

import { byId } from "./dom.js";
import { counted } from "./words.js";

/** How many prints are asked for, step by step, before the last step to all. */
const STEPS = [2, 8, 20, 50, 100, 200];

/** `ask(upto)` asks for prints and gives the answer or `null`; `told(answer)` shows it; `chosen()` is called when another print is shown. */
export function createPrints({ ask, told, chosen }) {
  const slider = byId("prints");
  const pause = byId("pause");
  let run = 0;
  let isPaused = false;
  let answer = null;

  /** Makes prints of the setting until there are enough, or the setting changes. */
  async function go() {
    const mine = ++run;
    const isOn = () => mine === run && !isPaused && !document.hidden;
    while (isOn() && !answer?.done) {
      const made = answer?.prints ?? 0;
      const upto = Math.min(STEPS.find((step) => step > made) ?? Infinity, answer?.wanted ?? Infinity);
      const next = await ask(upto);
      if (mine !== run || !next) return;
      answer = next;
      tell();
      told(answer);
    }
  }

  function tell() {
    const made = answer?.prints ?? 0;
    document.body.dataset.prints = made;
    slider.max = made - 1;
    slider.disabled = made === 0;
    const state = answer?.done ? "done" : isPaused ? "paused" : made ? "going on" : "";
    byId("prints-made").textContent = made ? `${counted(made, "print", "prints")} made${answer.done ? "" : ` of ${answer.wanted}`}${state === "paused" ? ", paused" : ""}` : "no prints yet";
    byId("prints-shown").textContent = shown() === null ? "expected" : `print ${shown() + 1}`;
    slider.setAttribute("aria-valuetext", byId("prints-shown").textContent);
    pause.hidden = Boolean(answer?.done);
    pause.textContent = isPaused ? "go on" : "pause";
  }

  const shown = () => (Number(slider.value) < 0 ? null : Number(slider.value));

  slider.oninput = () => {
    tell();
    chosen();
  };
  pause.onclick = () => {
    isPaused = !isPaused;
    tell();
    if (isPaused) run++;
    else go();
  };
  document.addEventListener("visibilitychange", () => (document.hidden ? run++ : isBegun && go()));
  let isBegun = false;

  return {
    /** The setting has rested. */
    begin() {
      isBegun = true;
      go();
    },
    /** Another setting: prints of the old one tell nothing of it. */
    clear() {
      run++;
      isBegun = false;
      answer = null;
      slider.value = -1;
      tell();
    },
    answer: () => answer,
    /** Number of the print that is shown, `null` for what is expected. */
    shown,
  };
}
