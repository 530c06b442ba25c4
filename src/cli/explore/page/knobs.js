/** Which dial moves a figure most. */

import { button, el } from "./dom.js";
import { figureKey, number } from "./words.js";

/** Most dials told of a figure, and the least power that is told. */
const [MOST, LEAST] = [3, 0.02];
/** A larger power tells of a figure that is nearly zero, not of the dial. */
const LARGEST = 20;
/** Below this part of its largest value, a figure needs no dial. */
const FAR_BELOW = 0.01;
/** By how much a dial is turned in what is told, %. */
const TURN = 1;

/** Settings that are turned between prints. */
const SET = /^(layer\[\d+\]\.)?(flow\.(carrier|sheath)_sccm|flight\.stand_off_mm|path\[\d+\]\.(speed_mm_s|spacing_um)|ink\.powder\[\d+\]\.mass_percent|landing\.chip_c)$/;

/** Whether a key is one of these. */
export const isSet = (key) => SET.test(key);

/** `dials` knows their names and brings one into view. */
export function createKnobs(dials) {
  let answer = null;
  return {
    /** What the program told; `null` while it is not known of this setting. */
    set(next) {
      answer = next;
    },
    /** Elements that tell what moves a figure; `null` if that is not known. */
    of(figure) {
      const column = answer?.figures.findIndex((one) => figureKey(one) === figureKey(figure)) ?? -1;
      if (column < 0 || (figure.max && figure.mean < FAR_BELOW * figure.max)) return null;
      const effects = answer.effects.map((effect) => ({ effect, power: effect.powers[column] }));
      const told = effects.filter(
        ({ power }) => power !== null && Math.abs(power) >= LEAST && Math.abs(power) <= LARGEST,
      );
      // What a hand can turn comes before what is a given or a guess.
      const rank = ({ effect }) => (isSet(effect.key) ? 0 : 1);
      told.sort((a, b) => rank(a) - rank(b) || Math.abs(b.power) - Math.abs(a.power));
      if (told.length === 0) return [el("span", { class: "why" }, "No dial moves it much by itself.")];
      return told.slice(0, MOST).map(({ effect, power }) =>
        button(words(dials.name(effect.key), effect.unverified, power, figure), () => dials.show(effect.key), {
          class: "mover",
        }),
      );
    },
  };
}

function words(name, unverified, power, figure) {
  const change = 100 * ((1 + TURN / 100) ** power - 1);
  const less = figure.id.startsWith("particles") ? "fewer" : "less";
  return `${TURN}\u00a0% more ${name}${unverified ? " (unverified)" : ""}: ${number(Math.abs(change), 2)}\u00a0% ${change < 0 ? less : "more"}`;
}
