/** Which dial moves a figure most. */

import { nice } from "./charts.js";
import { button, el } from "./dom.js";
import { amount, figureKey, number } from "./words.js";

/** Most dials told of a figure, and the least power that is told. */
const [MOST, LEAST] = [3, 0.02];
/** A larger power tells of a figure that is nearly zero, not of the dial. */
const LARGEST = 20;
/** Below this part of its largest value, a figure needs no dial. */
const FAR_BELOW = 0.01;
/** By how much a dial is turned in what is told, %. */
const TURN = 1;
/** Factor by which a setting is turned at most in an estimate of how far to turn it. */
const FARTHEST = 2;
/** Standard deviations from the mean within which 9 of 10 values lie on one side (normal law, from memory: 1.2816). */
const NINE_OF_TEN = 1.2816;
/** What rounding does to a number, as a part of it. */
const ROUNDING = 1e-9;

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
    /** Elements that tell what moves a figure, one of `limits`; `null` if that is not known. */
    of(figure, limits) {
      const column = columnOf(answer, figure);
      if (column < 0 || (figure.max && figure.mean < FAR_BELOW * figure.max)) return null;
      const effects = answer.effects.map((effect) => ({ effect, power: effect.powers[column] }));
      const told = effects.filter(
        ({ power }) => power !== null && Math.abs(power) >= LEAST && Math.abs(power) <= LARGEST,
      );
      // What a hand can turn comes before what is a given or a guess.
      const rank = ({ effect }) => (isSet(effect.key) ? 0 : 1);
      told.sort((a, b) => rank(a) - rank(b) || Math.abs(b.power) - Math.abs(a.power));
      if (told.length === 0) return [el("span", { class: "why" }, "No dial moves it much by itself.")];
      const mover = (effect, text) => button(text, () => dials.show(effect.key), { class: "mover" });
      const others = limits
        .filter((limit) => limit !== figure && meets(limit))
        .map((limit) => ({ limit, column: columnOf(answer, limit) }))
        .filter(({ column }) => column >= 0);
      const turns = told
        .filter(({ effect }) => isSet(effect.key))
        .map(({ effect, power }) => ({ effect, value: turned(effect, power, figure, others, dials.info(effect.key)) }))
        .filter(({ value }) => value !== null);
      if (turns.length === 0)
        return told
          .slice(0, MOST)
          .map(({ effect, power }) => mover(effect, words(dials.name(effect.key), effect.unverified, power, figure)));
      return [
        el("span", { class: "why" }, `${figure.sd > 0 ? "Met by about 9 of 10 prints" : "Met on average"}, by a straight estimate from small turns, with${turns.length > 1 ? " any one of" : ""}:`),
        turns
          .slice(0, MOST)
          .map(({ effect, value }) =>
            mover(effect, `${dials.name(effect.key)} about ${amount(value, effect.unit)} (now ${number(effect.value, 4)})`),
          ),
      ];
    },
  };
}

const columnOf = (answer, figure) => answer?.figures.findIndex((one) => figureKey(one) === figureKey(figure)) ?? -1;

/** Whether the mean of a figure meets its limit; one that is not known misses none. */
const meets = ({ min, max, mean }) =>
  !Number.isFinite(mean) || (mean >= (min ?? -Infinity) * (1 - ROUNDING) && mean <= (max ?? Infinity) * (1 + ROUNDING));

/** The mean at which a figure meets a limit that it misses, with room for the scatter of prints where that is known. */
function goalOf({ min, max, mean, sd }) {
  const room = sd > 0 ? (NINE_OF_TEN * sd) / mean : 0;
  return mean < (min ?? -Infinity) ? (room < 1 ? min / (1 - room) : NaN) : max / (1 + room);
}

/**
 * About the value of a setting with which a figure that misses its limit meets it, if figures go on to follow the powers of the
 * setting that they follow here. `null` if the figure meets its limit, if that is too far to be told so, beyond what `info` allows, or
 * misses another limit that is met now.
 */
function turned(effect, power, figure, others, info) {
  if (meets(figure) || !(figure.mean > 0) || !(effect.value > 0)) return null;
  const wanted = effect.value * (goalOf(figure) / figure.mean) ** (1 / power);
  if (!(wanted > 0) || !Number.isFinite(wanted)) return null;
  const step = info?.whole ? 1 : nice(wanted / 100, Math.floor);
  const [away, slack] = wanted > effect.value ? [Math.ceil, -ROUNDING] : [Math.floor, ROUNDING];
  const value = Number((step * away(wanted / step + slack)).toPrecision(10));
  const factor = value / effect.value;
  const isAllowed = value >= (info?.least ?? -Infinity) && value <= (info?.most ?? Infinity);
  if (!isAllowed || factor > FARTHEST || factor < 1 / FARTHEST) return null;
  const after = (limit, by) => ({ ...limit, mean: by === null ? limit.mean : limit.mean * factor ** by });
  const areMet = others.every(({ limit, column }) => meets(after(limit, effect.powers[column])));
  return areMet && meets(after(figure, power)) ? value : null;
}

function words(name, unverified, power, figure) {
  const change = 100 * ((1 + TURN / 100) ** power - 1);
  const less = figure.id.startsWith("particles") ? "fewer" : "less";
  return `${TURN}\u00a0% more ${name}${unverified ? " (unverified)" : ""}: ${number(Math.abs(change), 2)}\u00a0% ${change < 0 ? less : "more"}`;
}
