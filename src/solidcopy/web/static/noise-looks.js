// A panel that asks for a look at the recording, waits for it, and shows what was found.
import { ask, say } from "/static/bench.js";

const EVERY_MS = 700;
const WORDS = {
  waiting: () => " waits until another look is done",
  working: (look) => ` looking for ${Math.round(look.working_s)} s`,
  away: () => " the bench does not answer; waiting for it",
};

function pause() {
  return new Promise((resolve) => setTimeout(resolve, EVERY_MS));
}

// How far a look is. A server that is away may come again: the look goes on without it.
async function stateOf(look) {
  let answer;
  try {
    answer = await fetch(`/api/looks/${look.key}`);
  } catch {
    return { ...look, state: "away" };
  }
  const found = await answer.json();
  if (!answer.ok) throw new Error(found.sentence);
  return found;
}

export class Panel {
  // `request` gives what is asked, or throws what is wrong in words.
  constructor(section, request) {
    this.section = section;
    this.kind = section.dataset.kind;
    this.head = section.querySelector("h2").textContent;
    this.request = request;
    this.whenDone = () => {};
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

  begin() {
    return this.follow(() => ask("POST", "/api/looks", this.request(this.form)));
  }

  // Goes on waiting for a look that was at work when the page was opened.
  resume() {
    return this.follow(() => stateOf({ key: this.key }));
  }

  async follow(first) {
    this.isCancelled = false;
    this.busy(true);
    try {
      let look = await first();
      say(`${this.head}: looking …`);
      while (!this.isCancelled && look.state !== "done") {
        if (look.state === "ended") throw new Error("It ended without an answer. Ask again.");
        this.section.dataset.key = look.key;
        this.tell(look);
        await pause();
        if (!this.isCancelled) look = await (look.state === "waiting" ? first() : stateOf(look));
      }
      if (!this.isCancelled) await this.show(look);
      this.busy(false);
    } catch (error) {
      this.busy(false);
      if (!this.isCancelled) this.fail(error.message);
    }
  }

  tell(look) {
    this.state.replaceChildren(document.createElement("progress"), WORDS[look.state](look));
  }

  fail(words) {
    this.state.textContent = words;
    this.state.classList.add("bad");
    say(`${this.head}: ${words}`);
  }

  async show(look) {
    const answer = await fetch(`/noise/looks/${look.key}`);
    this.out.innerHTML = await answer.text(); // of our own server, escaped there
    this.section.dataset.key = look.key;
    this.section.dataset.state = "done";
    say(`${this.head}: ${look.answer.sentence}`);
    this.whenDone();
  }

  async cancel() {
    this.isCancelled = true;
    this.busy(false);
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
    this.state.replaceChildren();
    this.state.classList.remove("bad");
  }
}
