// A panel that asks for a look at the recording, waits for it, and shows what was found.
import { ask, say } from "/static/bench.js";

const EVERY_MS = 700;

function pause() {
  return new Promise((resolve) => setTimeout(resolve, EVERY_MS));
}

export class Panel {
  // `request` gives what is asked, or throws what is wrong in words.
  constructor(section, request, found) {
    this.section = section;
    this.kind = section.dataset.kind;
    this.head = section.querySelector("h2").textContent;
    this.request = request;
    this.found = found;
    this.form = section.querySelector("form");
    this.start = this.form.querySelector("button:not(.cancel)");
    this.stop = this.form.querySelector(".cancel");
    this.state = this.form.querySelector(".state");
    this.out = section.querySelector(".found");
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.begin();
    });
    this.stop.addEventListener("click", () => this.cancel());
  }

  get isDone() {
    return this.section.dataset.state === "done";
  }

  get key() {
    return this.section.dataset.key;
  }

  async begin() {
    await this.follow(() => ask("POST", "/api/looks", this.request(this.form)));
  }

  // Goes on waiting for a look that was at work when the page was opened.
  async resume() {
    await this.follow(() => ask("GET", `/api/looks/${this.key}`));
  }

  async follow(first) {
    this.isCancelled = false;
    this.busy(true);
    try {
      let look = await first();
      say(`${this.head}: looking …`);
      while (!this.isCancelled && look.state !== "done") {
        this.section.dataset.key = look.key;
        this.tell(look);
        if (look.state === "ended") throw new Error("It ended without an answer. Ask again.");
        await pause();
        const again = look.state === "waiting";
        if (!this.isCancelled) look = again ? await first() : await ask("GET", `/api/looks/${look.key}`);
      }
      if (!this.isCancelled) await this.show(look);
    } catch (error) {
      if (!this.isCancelled) say(`${this.head}: ${error.message}`);
    } finally {
      this.busy(false);
    }
  }

  tell(look) {
    const bar = document.createElement("progress");
    const words =
      look.state === "waiting"
        ? " waits until another look is done"
        : ` looking for ${Math.round(look.working_s)} s`;
    this.state.replaceChildren(bar, words);
  }

  async show(look) {
    const answer = await fetch(`/noise/looks/${look.key}`);
    this.out.innerHTML = await answer.text(); // of our own server, escaped there
    this.section.dataset.key = look.key;
    this.section.dataset.state = "done";
    say(`${this.head}: ${look.answer.sentence}`);
    this.found(look);
  }

  async cancel() {
    this.isCancelled = true;
    try {
      await ask("DELETE", `/api/looks/${this.key}`);
    } catch {
      // It was waiting only, or has just ended.
    }
    say(`${this.head}: cancelled.`);
  }

  busy(isBusy) {
    this.start.disabled = isBusy;
    this.stop.hidden = !isBusy;
    this.section.setAttribute("aria-busy", String(isBusy));
    if (!isBusy) this.state.replaceChildren();
  }
}
