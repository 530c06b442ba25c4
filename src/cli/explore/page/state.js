/** The setting, what it was before, and the pins. All of it outlives a reload of the page. */

/** Turns of the same dial within this time are one step of undo, ms. */
const ONE_TURN_MS = 900;
/** Most steps that can be undone. */
const MOST_STEPS = 200;

/** `scenario` as the program tells it; `changed` is called with the dial that was turned, or `null` if several were. */
export function createState(scenario, changed) {
  const home = new Map(scenario.dials.map((dial) => [dial.key, dial.value]));
  const store = `motefall ${scenario.file} ${scenario.name}`;
  const kept = read(store);
  let values = only(kept.values ?? {});
  let past = [];
  let future = [];
  let last = { key: null, at: 0 };
  const pins = kept.pins ?? [];

  /** What differs from the file, of what the file has. */
  function only(wanted) {
    return Object.fromEntries(
      Object.entries(wanted).filter(([key, value]) => home.has(key) && home.get(key) !== value),
    );
  }

  function go(next, key) {
    values = only(next);
    keep();
    changed(key);
  }

  function step(next, key) {
    const now = performance.now();
    const goesOn = key !== null && key === last.key && now - last.at < ONE_TURN_MS;
    last = { key, at: now };
    if (!goesOn) past = [...past, values].slice(-MOST_STEPS);
    future = [];
    go(next, key);
  }

  function keep() {
    try {
      sessionStorage.setItem(store, JSON.stringify({ values, pins }));
    } catch {
      // Without room, a reload begins at the file.
    }
  }

  function back(from, to) {
    if (from.length === 0) return;
    const before = values;
    const next = from.pop();
    to.push(before);
    last = { key: null, at: 0 };
    go(next, null);
  }

  return {
    pins,
    keep,
    values: () => values,
    value: (key) => values[key] ?? home.get(key),
    isChanged: (key) => key in values,
    turn(key, value) {
      if (value !== this.value(key)) step({ ...values, [key]: value }, key);
    },
    load: (wanted) => step({ ...wanted }, null),
    undo: () => back(past, future),
    redo: () => back(future, past),
    canUndo: () => past.length > 0,
    canRedo: () => future.length > 0,
  };
}

/** Whether two settings are the same. */
export function same(a, b) {
  const keys = Object.keys(a);
  return keys.length === Object.keys(b).length && keys.every((key) => a[key] === b[key]);
}

function read(store) {
  try {
    return JSON.parse(sessionStorage.getItem(store)) ?? {};
  } catch {
    return {};
  }
}
