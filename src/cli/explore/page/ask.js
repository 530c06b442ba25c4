/** Talking to the program: one question of a kind at a time, the newest first. */

/** How long a question may go on once a newer one of its kind waits, ms: long enough that a picture comes while a dial is being turned. */
const PATIENCE_MS = 2000;

/** Tells this page from others that are open. */
const PAGE = crypto.randomUUID();

/** What each particle of a print is told by, in this order behind the maps. */
const OF_PARTICLES = ["x_um", "y_um", "z_nm", "d_nm", "powder"];

/** An answer that is none: `status`, text for the user, and the faults of a refused setting. */
export class Refused extends Error {
  constructor(status, answer) {
    super(answer.error ?? `The program answered with ${status}.`);
    this.status = status;
    this.faults = answer.faults ?? [];
  }
}

/** Asks without a body. */
export const get = (path) => asked(path, { method: "GET" }, (response) => response.json());

/** Asks with a body; the answer is JSON. */
export const post = (path, body, signal) => send(path, body, (response) => response.json(), signal);

/** Asks for maps; see `picture`. */
export const postForPicture = (path, body, signal) =>
  send(path, body, async (response) => picture(await response.arrayBuffer()), signal);

function send(path, body, read, signal) {
  const token = document.querySelector('meta[name="motefall-token"]').content;
  const headers = { "Content-Type": "application/json", "X-Motefall-Token": token, "X-Motefall-Page": PAGE };
  return asked(path, { method: "POST", headers, body: JSON.stringify(body), signal }, read);
}

async function asked(path, request, read) {
  const response = await fetch(path, request);
  if (response.ok) return read(response);
  const answer = await response.json().catch(() => ({}));
  throw new Refused(response.status, answer);
}

/**
 * Takes an answer with arrays apart: `head` its JSON, `maps` one array a map (row by row, lowest y first), `particles` their arrays
 * if there are any.
 */
export function picture(bytes) {
  const length = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
  let at = 4 + length;
  const next = (count) => {
    const array = new Float32Array(bytes, at, count);
    at += 4 * count;
    return array;
  };
  const take = (names, count) => Object.fromEntries(names.map((name) => [name, next(count)]));
  const maps = take(
    head.arrays.filter((name) => !OF_PARTICLES.includes(name)),
    head.columns * head.rows,
  );
  const particles = head.particles ? take(OF_PARTICLES, head.particles.shown) : null;
  return { head, maps, particles };
}

/**
 * Questions of one kind. At most one is on its way. A newer one waits until it is answered, but not for long: then the older is given
 * up. The promise of a question that a newer one replaced gives `null`. `work(body, signal)` asks and gives the answer.
 */
export function kind(work) {
  let running = null;
  let waiting = null;

  async function start(question) {
    const mine = { stop: new AbortController(), since: performance.now() };
    running = mine;
    try {
      question.done(await work(question.body, mine.stop.signal));
    } catch (error) {
      const replaced = error.name === "AbortError" || error.status === 409;
      if (replaced) question.done(null);
      else question.fail(error);
    }
    running = null;
    const next = waiting;
    waiting = null;
    if (next) start(next);
  }

  return {
    ask(body) {
      return new Promise((done, fail) => {
        waiting?.done(null);
        waiting = null;
        const question = { body, done, fail };
        if (!running) return void start(question);
        waiting = question;
        const older = running;
        const left = Math.max(0, PATIENCE_MS - (performance.now() - older.since));
        setTimeout(() => running === older && waiting && older.stop.abort(), left);
      });
    },
    /** Gives up what is on its way. */
    drop() {
      waiting?.done(null);
      waiting = null;
      running?.stop.abort();
    },
  };
}
