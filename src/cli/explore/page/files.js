/** Leaving the page: a scenario file, a command line, a report, a bench sheet. */

import { post } from "./ask.js";
import { byId, el, put } from "./dom.js";

/** `values()` gives the setting; `jobStarted()` is called when there is a job to follow. */
export function createFiles(scenario, { values, jobStarted, say }) {
  const dialog = byId("save-dialog");
  const name = byId("save-name");
  name.value = `${scenario.stem}-2.toml`;

  byId("save").onclick = () => {
    put(byId("save-told"));
    dialog.showModal();
  };
  byId("save-form").onsubmit = async (event) => {
    event.preventDefault();
    try {
      const { file, command } = await post("/api/save", { values: values(), name: name.value });
      put(byId("save-told"), el("p", {}, "Saved as ", el("b", {}, file), "."), el("p", {}, el("code", {}, command)));
    } catch (error) {
      put(byId("save-told"), el("p", { class: "fault", role: "alert" }, error.message));
    }
  };

  byId("command").onclick = () =>
    tried(async () => {
      const { command } = await post("/api/command", { values: values() });
      const isCopied = await navigator.clipboard.writeText(command).then(
        () => true,
        () => false,
      );
      say([isCopied ? "Copied: " : "Copy this: ", el("code", {}, command)]);
    });

  byId("sheet").onclick = () =>
    tried(async () => {
      say(["The bench sheet is being made …"]);
      open(await post("/api/sheet", { values: values() }));
    });

  byId("report").onclick = () =>
    tried(async () => {
      await post("/api/report", { values: values(), prints: 0 });
      say(["The report is being made; see ", el("a", { href: "#jobs-section" }, "jobs"), "."]);
      jobStarted();
    });

  /** Opens a page in a tab of its own; where the browser does not allow that, says where it is. */
  function open({ open: address }) {
    const tab = window.open(address, "_blank", "noopener");
    say([
      "The bench sheet is ready: ",
      el("a", { href: address, target: "_blank", rel: "noopener" }, "open it"),
      tab ? "" : ".",
    ]);
  }

  async function tried(work) {
    try {
      await work();
    } catch (error) {
      say([error.message]);
    }
  }
}
