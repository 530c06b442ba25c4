/** The data flow: a turn of a dial becomes questions, answers become pictures. */

import { get, kind, post, postForPicture } from "./ask.js";
import { createDials } from "./dials.js";
import { showBudget, showProfiles, showSizes } from "./details.js";
import { byId, el, put, rested } from "./dom.js";
import { showFigures } from "./figures.js";
import { createFiles } from "./files.js";
import { createJobs } from "./jobs.js";
import { createKnobs } from "./knobs.js";
import { showLimits } from "./limits.js";
import { showLines } from "./lines.js";
import { createMapPanel } from "./map-panel.js";
import { createParticles } from "./particles.js";
import { createPins } from "./pins.js";
import { createPlans } from "./plans.js";
import { createPrints } from "./prints.js";
import { createState } from "./state.js";
import { createTurned } from "./turned.js";
import { showCautions, showVerdict } from "./verdict.js";

/** Pixels of a map that is shown at once, and of a finer one that follows. */
const [QUICK_PIXELS, PIXELS] = [30_000, 90_000];
/** How long a setting rests before prints are made, and before its dials are compared, ms. */
const [PRINTS_REST_MS, KNOBS_REST_MS] = [600, 1500];
/** Prints that are made before dials are compared. */
const PRINTS_BEFORE_KNOBS = 20;

const body = document.body;
// The secret has done its work: it need not stand in the address, and so in nobody's history.
history.replaceState(null, "", "/");
body.dataset.state = "busy";
body.dataset.prints = "0";

start().catch((error) => say([`The page cannot begin: ${error.message}`]));

async function start() {
  const scenario = await get("/api/scenario");
  byId("name").textContent = scenario.name;
  byId("about").textContent = [
    scenario.file,
    scenario.calibration && `calibration ${scenario.calibration}`,
    `motefall ${scenario.version}`,
  ]
    .filter(Boolean)
    .join(" · ");
  byId("note").textContent = scenario.note ?? "";
  document.title = `${scenario.name} – motefall`;
  explore(scenario);
  if (scenario.calibration) showLines();
}

function explore(scenario) {
  const questions = {
    map: kind((question, signal) => postForPicture("/api/map", question, signal)),
    expected: kind((question, signal) => post("/api/expected", question, signal)),
    detail: kind((question, signal) => postForPicture("/api/map", question, signal)),
    prints: kind((question, signal) => post("/api/prints", question, signal)),
    printMap: kind((question, signal) => postForPicture("/api/print", question, signal)),
    print: kind((question, signal) => postForPicture("/api/print", question, signal)),
    knobs: kind((question, signal) => post("/api/knobs", question, signal)),
  };
  /** Number of the present setting; an answer with an older one is late. */
  let ask = 0;
  /** What is known of the present setting. `map` is the expected one. */
  let known = {};
  /** The last setting of which map and figures are known: what stands there while a value is refused. */
  let good = null;
  let lastPrint = null;
  /** Whether the setting has rested long enough for prints to be made, and for its dials to be compared. */
  let rests = { prints: false, knobs: false };

  const state = createState(scenario, changed);
  const dials = createDials(scenario, state);
  const turned = createTurned();
  const knobs = createKnobs(dials);
  const panel = createMapPanel({ askDetail, pick: (at) => particles.look(at) });
  const particles = createParticles(askPrint);
  const prints = createPrints({
    ask: (upto) => asked(questions.prints, { upto }),
    told: printsTold,
    chosen: printChosen,
  });
  const pins = createPins(scenario, state, {
    now: () => ({ expected: known.expected, prints: prints.answer() }),
    thumbnail: (size) => known.map && panel.thumbnail(known.map, size),
  });
  const jobs = createJobs({
    load: (values, base = state.values()) => {
      state.load({ ...base, ...values });
      byId("verdict").scrollIntoView({ block: "center" });
    },
    say,
  });
  createFiles(scenario, { values: state.values, jobStarted: jobs.look, say });
  createPlans(scenario, state, {
    started: (kind) => {
      say([`The ${kind} is under way; see `, el("a", { href: "#jobs-section" }, "jobs"), "."]);
      jobs.look();
    },
  });
  const printsRest = rested(PRINTS_REST_MS, () => {
    rests.prints = true;
    prints.begin();
    if (known.map) askPrint();
  });
  const knobsRest = rested(KNOBS_REST_MS, () => {
    rests.knobs = true;
    askKnobs();
  });

  byId("undo").onclick = state.undo;
  byId("redo").onclick = state.redo;
  byId("home").onclick = () => state.load({});
  document.addEventListener("keydown", keys);
  changed(null);
  jobs.look();

  /** Asks about the present setting. A refusal is shown; `null` if there is no answer. */
  async function asked(question, more) {
    const mine = ask;
    try {
      const answer = await question.ask({ values: state.values(), ask: mine, ...more });
      return answer && { ...answer, ask: mine };
    } catch (error) {
      // What is wrong with an older setting is no longer of interest.
      if (mine === ask) refused(error);
      return null;
    }
  }

  function changed(key) {
    ask += 1;
    known = {};
    body.dataset.state = "busy";
    judgedOf(good ? "the setting before; working …" : null);
    turned.begin(key);
    if (key === null) dials.forget();
    refresh(key);
    knobs.set(null);
    rests = { prints: false, knobs: false };
    for (const name of ["expected", "knobs", "prints", "printMap", "print", "detail"]) questions[name].drop();
    prints.clear();
    panel.busy(true);
    particles.age();
    askMap();
    printsRest();
    knobsRest();
  }

  function refresh(key) {
    dials.refresh(key);
    byId("undo").disabled = !state.canUndo();
    byId("redo").disabled = !state.canRedo();
    byId("home").disabled = Object.keys(state.values()).length === 0;
  }

  /** First the map; figures only once dials rest, for the program gives them up as soon as another setting is asked about. */
  async function askMap() {
    const picture = await asked(questions.map, { window: null, pixels: QUICK_PIXELS });
    if (!picture) return;
    mapCame(picture, picture.ask);
    if (picture.ask !== ask) return;
    const expected = await asked(questions.expected, {});
    if (expected?.ask === ask) expectedCame(expected, ask);
  }

  function mapCame(picture, number) {
    answered(number, "map", picture);
    if (number === ask) panel.busy(false);
    if (prints.shown() === null) panel.show(picture, false);
    panel.map.mark(particles.part(picture.head.regions));
    showProfiles(picture, lastPrint?.ask === number ? lastPrint : null);
    const { only_prints: why } = picture.head;
    byId("map-note").textContent = why ? `Only prints tell the deposit: ${why}.` : "";
    if (rests.prints && number === ask) askPrint();
  }

  function expectedCame(expected, number) {
    const did = turned.told(expected.limits);
    if (did) dials.did(did.key, did.text);
    answered(number, "expected", expected);
    show(expected, prints.answer());
  }

  /** Notes an answer; once map and expected figures of the present setting are there, the page is ready. */
  function answered(number, name, answer) {
    body.dataset.ask = number;
    if (number !== ask) return;
    known[name] = answer;
    if (!known.map || !known.expected) return;
    good = { ...known };
    body.dataset.state = "ready";
    panel.busy(false);
    dials.refuse([]);
    say([]);
    lastGood(false);
    mapInWords();
    pins.refresh();
  }

  function show(expected, answer) {
    judgedOf(null);
    showVerdict(expected, answer, scenario.required);
    showLimits(expected, answer, knobs.of);
    showFigures(expected, answer);
    showCautions(expected, answer, lastPrint?.ask === ask ? lastPrint.head.cautions : []);
  }

  /** Says of which setting verdict and limits are, if not of the present one. */
  function judgedOf(words) {
    body.dataset.judged = words ? "former" : "present";
    byId("former").textContent = words ? `Verdict and limits of ${words}` : "";
  }

  function printsTold() {
    // Prints may tell before the figures without chance do.
    show(known.expected, prints.answer());
    if (!known.expected) return;
    pins.refresh();
    askKnobs();
  }

  /** Comparing dials takes the program a while, and nothing else is answered meanwhile: some prints come first. */
  async function askKnobs() {
    const made = prints.answer();
    if (!rests.knobs || !(made?.done || made?.prints >= PRINTS_BEFORE_KNOBS || prints.isPaused())) return;
    rests.knobs = false;
    const answer = await asked(questions.knobs, {});
    if (!answer || answer.ask !== ask) return;
    knobs.set(answer);
    if (known.expected) showLimits(known.expected, prints.answer(), knobs.of);
  }

  /** A finer map of what is seen. */
  async function askDetail(window) {
    if (body.dataset.state === "refused") return;
    const number = prints.shown();
    const isPrint = number !== null || known.map?.head.only_prints;
    const more = { window, pixels: PIXELS, ...(isPrint && { number: number ?? 0, particles: false }) };
    const picture = await asked(isPrint ? questions.printMap : questions.detail, more);
    if (picture?.ask === ask && number === prints.shown()) panel.show(picture, true);
  }

  function printChosen() {
    askPrint();
    if (prints.shown() === null) known.map && panel.show(known.map, false);
    else askPrintMap();
  }

  async function askPrintMap() {
    const number = prints.shown() ?? 0;
    const picture = await asked(questions.printMap, { number, window: null, pixels: PIXELS, particles: false });
    if (picture?.ask === ask && number === (prints.shown() ?? 0)) panel.show(picture, false);
  }

  /** One print at particle scale, with what else it tells. */
  async function askPrint() {
    if (!panel.picture()) return;
    const part = particles.part(panel.picture().head.regions);
    panel.map.mark(part);
    const number = prints.shown() ?? 0;
    if (!lastPrint) byId("particles-words").textContent = "The first print is being made …";
    const answer = await asked(questions.print, { number, window: part, pixels: 100, particles: true });
    if (!answer || answer.ask !== ask) return;
    lastPrint = { ...answer, number, part };
    particles.show(lastPrint);
    byId("details-number").textContent = `print ${number + 1}`;
    showProfiles(known.map, lastPrint);
    showCautions(known.expected, prints.answer(), answer.head.cautions);
    showSizes(answer.head.sizes);
    showBudget(answer.head.budget);
    if (known.map?.head.only_prints && prints.shown() === null) askPrintMap();
  }

  /** The main figures in a sentence, for those who do not see the map. */
  function mapInWords() {
    const limits = known.expected.limits.map((limit) => `${limit.name}: ${limit.text}`);
    const regions = known.map.head.regions.map((region) => `${region.name} (${region.role})`).join(", ");
    byId("map-words").textContent = `Map of the chip from above with ${regions}. ${limits.join("; ")}.`;
  }

  /** Says that what stands there is of the last good setting, or no longer. */
  function lastGood(isIt) {
    for (const note of document.querySelectorAll(".last-good")) note.hidden = !isIt;
  }

  /** A question was refused. The last good picture stays, and says so. */
  function refused(error) {
    panel.busy(false);
    const isSetting = error.status === 422;
    const rest = dials.refuse(isSetting ? error.faults : [], turned.key());
    if (isSetting) {
      body.dataset.state = "refused";
      lastGood(true);
      if (good) {
        if (panel.picture() !== good.map) panel.show(good.map, false);
        show(good.expected, null);
      }
      judgedOf("the last good setting");
      [printsRest, knobsRest].forEach((wait) => wait.cancel());
    }
    const isGone = error.status === undefined;
    say(isGone ? ["The program does not answer. Is it still running?"] : isSetting ? rest : [error.message]);
  }

  function keys(event) {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
    if (event.target.closest("input[type=number], input[type=text], input[type=search], dialog")) return;
    event.preventDefault();
    (event.shiftKey ? state.redo : state.undo)();
  }
}

/** A line at the head of the page; empty takes it away. */
function say(words) {
  byId("said").hidden = words.length === 0;
  put(byId("said"), words);
}
