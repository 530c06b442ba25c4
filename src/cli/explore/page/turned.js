/** What the last turn of a dial did to the figures with a limit. */

import { figureKey, number, withUnit } from "./words.js";

/** Most figures that are named, and the least change that counts, as a part of the limit. */
const [MOST, LEAST] = [3, 0.002];
/** A dial that rests this long and is turned again begins a new turn, ms. */
const TURN_RESTS_MS = 1500;

/** Remembers where a turn began. */
export function createTurned() {
  let turn = null;
  let last = null;
  return {
    /** The dial that was turned last; `null` if the whole setting was replaced. */
    key: () => turn?.key ?? null,
    /** A dial was turned; `null` if the whole setting was replaced. */
    begin(key) {
      const now = performance.now();
      const goesOn = turn && turn.key === key && now - turn.at < TURN_RESTS_MS;
      turn = key === null ? null : { key, at: now, from: goesOn ? turn.from : last };
    },
    /** Expected limits have come: which dial was turned, and what it did. `null` if there is nothing to tell. */
    told(limits) {
      last = limits;
      if (!turn?.from) return null;
      return { key: turn.key, text: `last turn: ${difference(turn.from, limits)}` };
    },
  };
}

/** What differs between two lists of limits, the largest change first. */
function difference(from, to) {
  const before = new Map(from.map((limit) => [figureKey(limit), limit.mean]));
  const changes = to.map((limit) => ({ limit, was: before.get(figureKey(limit)), is: limit.mean }));
  const size = ({ limit, was, is }) => Math.abs(is - was) / Math.abs(limit.max || limit.min || was);
  const told = changes.filter(
    (change) => Number.isFinite(change.was) && Number.isFinite(change.is) && size(change) > LEAST,
  );
  if (told.length === 0) return "no change that counts";
  told.sort((a, b) => size(b) - size(a));
  return told
    .slice(0, MOST)
    .map(({ limit, was, is }) => `${limit.name} ${number(was)} → ${withUnit(number(is), limit.unit)}`)
    .join("; ");
}
