/** Prints of the setting as they accumulate, and the slider through them. */

import { byId } from "./dom.js";
import { counted } from "./words.js";

/** How many prints are asked for, step by step, before the last step to all. */
const STEPS = [2, 8, 20, 50, 100, 200];
/** By how much more prints are made than are enough, each time that more are asked for. */
const MORE = 5;

/** `ask(upto)` asks for prints and gives the answer or `null`; `told(answer)` shows it; `chosen()` is called when another print is shown. */
export function createPrints({ ask, told, chosen }) {
  const slider = byId("prints");
  const pause = byId("pause");
  let run = 0;
  let isPaused = false;
  let answer = null;
  let goal = 0;

  /** How many prints shall be made. */
  const aim = () => Math.max(answer?.wanted ?? Infinity, goal);
  const isEnough = () => answer !== null && answer.prints >= aim();

  /** Makes prints of the setting until there are enough, or the setting changes. */
  async function go() {
    const mine = ++run;
    const isOn = () => mine === run && !isPaused && !document.hidden;
    while (isOn() && !isEnough()) {
      const made = answer?.prints ?? 0;
      const upto = Math.min(STEPS.find((step) => step > made) ?? Infinity, answer ? aim() : STEPS[0]);
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
    byId("prints-made").textContent = made
      ? `${counted(made, "print", "prints")}${isEnough() ? "" : ` of ${aim()}${isPaused ? ", paused" : ""}`}`
      : "no prints yet";
    byId("prints-shown").textContent = shown() === null ? "expected" : `print ${shown() + 1}`;
    slider.setAttribute("aria-valuetext", byId("prints-shown").textContent);
    pause.textContent = isEnough() ? "more prints" : isPaused ? "go on" : "pause";
  }

  const shown = () => (Number(slider.value) < 0 ? null : Number(slider.value));

  slider.oninput = () => {
    tell();
    chosen();
  };
  pause.onclick = () => {
    if (isEnough()) goal = MORE * answer.prints;
    else isPaused = !isPaused;
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
      goal = 0;
      slider.value = -1;
      tell();
    },
    answer: () => answer,
    isPaused: () => isPaused,
    /** Number of the print that is shown, `null` for what is expected. */
    shown,
  };
}
