/** Long work: reports, sweeps, advice. */

import { get, post } from "./ask.js";
import { byId, el, put } from "./dom.js";
import { showResult } from "./results.js";

const EVERY_MS = 1000;

const isOn = (job) => ["waiting", "running"].includes(job.state);

/** `load(values, base)` takes a setting over, `base` being what else differed from the file; `say` tells of what went wrong. */
export function createJobs({ load, say }) {
  let timer = 0;
  let jobs = [];
  /** The job whose result is shown, as it was then. */
  let seen = null;

  /** Looks at the jobs, and again while one is running. */
  async function look() {
    clearTimeout(timer);
    try {
      jobs = (await get("/api/jobs")).jobs;
    } catch {
      return;
    }
    show();
    await renew();
    clearTimeout(timer);
    if (jobs.some(isOn)) timer = setTimeout(look, EVERY_MS);
  }

  /** The result that is looked at grows while its job goes on; left alone while the user is in it. */
  async function renew() {
    const job = jobs.find((one) => one.id === seen?.id);
    if (!job || (!isOn(job) && !isOn(seen)) || byId("result").contains(document.activeElement)) return;
    await open(job).catch(() => {});
  }

  async function open(job) {
    showResult(job, await get(`/api/result/${job.id}`), load);
    seen = job;
  }

  function show() {
    byId("jobs-section").hidden = jobs.length === 0;
    put(byId("jobs"), jobs.map(line));
  }

  function line(job) {
    const share = job.total ? job.done / job.total : null;
    const words = job.error ?? (isOn(job) && (job.total ? `${job.what}, ${job.done} of ${job.total}` : job.what));
    const act = (action, text) =>
      el("button", { type: "button", data: { action, job: job.id }, "aria-label": `${text}: ${job.title}` }, text);
    const hasResult = job.kind === "sweep" || (job.kind === "advice" && job.state === "done");
    return el(
      "li",
      { data: { job: job.id, state: job.state } },
      el(
        "span",
        { class: "job-title" },
        el("b", {}, job.title),
        el("span", { class: "why" }, [job.state, words].filter(Boolean).join(" · ")),
      ),
      isOn(job) && el("progress", { max: 1, value: share, "aria-label": `progress of ${job.title}` }),
      isOn(job) && act("stop", "stop"),
      ["stopped", "failed"].includes(job.state) && act("resume", "resume"),
      hasResult && act("result", "show result"),
      job.open && el("a", { href: job.open, target: "_blank", rel: "noopener" }, "open"),
    );
  }

  byId("jobs").onclick = async (event) => {
    const { action, job: id } = event.target.dataset;
    if (!action) return;
    const job = jobs.find((one) => String(one.id) === id);
    try {
      if (action === "result") {
        await open(job);
        byId("result-section").scrollIntoView({ block: "nearest" });
      } else {
        await post(`/api/${action}`, { id: job.id });
        look();
      }
    } catch (error) {
      say([error.message]);
    }
  };

  return { look };
}
