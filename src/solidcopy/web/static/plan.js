// The plan page: form and text side by side. The text is the plan; the server reads it and makes
// the form's changes in it.
import { ask, doing, say } from "/static/bench.js";
import { layOver } from "/static/form_parts.js";
import { drawForm } from "/static/plan_sections.js";

const PAUSE_MS = 700;
const find = (id) => document.getElementById(id);
const [head, text, form, wrong, cost, bar] = ["head", "text", "form", "wrong", "cost", "bar"].map(find);
const name = head.dataset.name;
const api = `/api/plans/${encodeURIComponent(name)}`;
const fields = find("all");

let description = null;
let savedText = text.value;
let digest = head.dataset.digest;
let costedText = null;
let shownText = null;
let typingTimer = 0;
const before = [];

function showState(state) {
  shownText = state.text;
  fields.disabled = state.values === null;
  find("unread").hidden = state.values !== null;
  if (state.values !== null) layOver(find("parts"), drawForm(description, state));
  showProblems(state.problems);
  const trials = state.n_trials_at_most;
  find("trials").textContent = trials === null ? "no plan yet" : `at most ${trials} trials`;
  showSaved();
}

function showProblems(problems) {
  wrong.replaceChildren(
    ...problems.map((problem) => {
      const item = document.createElement("li");
      const line = document.createElement("button");
      line.type = "button";
      line.className = "plain";
      line.textContent = problem.line ? `Line ${problem.line}` : "The plan";
      line.addEventListener("click", () => selectLine(problem.line ?? 1));
      item.append(line, ` ${problem.field}: ${problem.sentence}`);
      return item;
    }),
  );
  text.setAttribute("aria-invalid", problems.length ? "true" : "false");
}

function selectLine(number) {
  const lines = text.value.split("\n");
  const start = lines.slice(0, number - 1).reduce((sum, line) => sum + line.length + 1, 0);
  text.focus();
  text.setSelectionRange(start, start + (lines[number - 1] ?? "").length);
  text.scrollTop = (text.scrollHeight / lines.length) * Math.max(0, number - 6);
}

function showSaved() {
  const isSaved = text.value === savedText;
  find("saved").textContent = isSaved ? "saved" : "not saved yet";
  find("undo").disabled = before.length === 0;
  const isCosted = costedText === text.value;
  cost.hidden = !isCosted;
  if (!isCosted) find("time").textContent = "not timed yet";
  find("run").textContent = isCosted ? head.dataset.go : head.dataset.run;
}

// One request after the other, each on the text as the one before left it.
let queue = Promise.resolve();
function inTurn(action) {
  queue = queue.then(action).catch((error) => say(error.message));
  return queue;
}

function readText() {
  clearTimeout(typingTimer);
  return inTurn(async () => {
    if (text.value === shownText) return;
    const asked = text.value;
    const state = await ask("POST", `${api}/form`, { text: asked });
    if (text.value === asked) showState(state);
  });
}

function change(asked, said) {
  return inTurn(async () => {
    let was;
    let state;
    do {
      was = text.value;
      state = await ask("POST", `${api}/form/change`, { text: was, change: asked });
    } while (text.value !== was);
    if (state.text !== was) before.push(was);
    text.value = state.text;
    showState(state);
    const lost = state.n_remarks_lost;
    const remarks = lost ? ` ${lost} remark${lost > 1 ? "s" : ""} of the TOML went with it.` : "";
    if (said || remarks) say(`${said ?? "Changed."}${remarks}`);
  });
}

function undo() {
  return inTurn(async () => {
    text.value = before.pop();
    showState(await ask("POST", `${api}/form`, { text: text.value }));
    say("Taken back.");
  });
}

const placeOf = (control) => JSON.parse(control.dataset.place);

form.addEventListener("change", ({ target }) => {
  const kind = target.dataset.do;
  if (kind === "set") {
    target.sentValue = target.value;
    const value = target.type === "checkbox" ? target.checked : target.value;
    change({ do: "set", place: placeOf(target), value });
  } else if (kind === "turn") {
    change({ do: "turn", place: placeOf(target), form: target.value });
  } else if (kind === "tick") {
    change({ do: "turn", place: placeOf(target), form: target.checked ? "table" : "nothing" });
  } else if (kind === "way" && target.value) {
    change({ do: "way", place: placeOf(target), field: target.value });
  } else if (kind === "sweep") {
    change({ do: "sweep", by: target.dataset.by, key: target.value });
  } else if (kind === "pick") {
    find(`${target.id}-means`).textContent = target.selectedOptions[0].dataset.means ?? "";
  }
});

form.addEventListener("click", async ({ target }) => {
  const button = target.closest("button");
  const kind = button?.dataset.do;
  if (!kind) return;
  const place = button.dataset.place && placeOf(button);
  if (kind === "turn") await change({ do: "turn", place, form: button.value });
  if (kind === "stop") await change({ do: "stop", preset: button.value }, `${button.value}.`);
  if (kind === "move") await change({ do: "move", place, by: Number(button.dataset.by) });
  if (kind === "double") await change({ do: "double", place }, "Doubled.");
  if (kind === "take-out") await takeOut(place);
  if (kind === "add") await add(button, place);
});

async function add(button, place) {
  const picked = button.dataset.from ? find(button.dataset.from) : null;
  const what = picked ? picked.selectedOptions[0].textContent : "a condition";
  await change({ do: "add", place, ...(picked ? JSON.parse(picked.value) : {}) }, `Added: ${what}.`);
  const cards = form.querySelectorAll(`[id^="at-${place.join("-")}-"]:is(.card, .impairment)`);
  const made = [...cards].filter((card) => /^\d+$/.test(card.id.slice(`at-${place.join("-")}-`.length)));
  made.at(-1)?.querySelector("input, select")?.focus();
}

async function takeOut(place) {
  await change({ do: "take-out", place }, "Taken out. “Take back” brings it in again.");
  if (document.activeElement === document.body) find("undo").focus();
}

form.addEventListener("submit", (event) => event.preventDefault());
find("undo").addEventListener("click", undo);
text.addEventListener("input", () => {
  clearTimeout(typingTimer);
  typingTimer = setTimeout(readText, PAUSE_MS);
  showSaved();
});
text.addEventListener("blur", readText);

async function save(isForced = false) {
  await readText();
  await queue;
  const kept = text.value;
  try {
    const opened = isForced ? null : digest;
    ({ digest } = await ask("PUT", api, { text: kept, opened }));
  } catch (error) {
    if (error.problem?.kind === "changed") find("conflict").hidden = false;
    throw error;
  }
  find("conflict").hidden = true;
  savedText = kept;
  showSaved();
}

async function timeIt() {
  say("Saved. A few trials are made and timed …");
  const found = await ask("GET", `${api}/cost`);
  costedText = savedText;
  cost.textContent = found.words;
  find("time").textContent = `${found.time_words} at most on ${found.processor_words}`;
  showSaved();
}

find("save").addEventListener("click", (event) =>
  doing(event.currentTarget, async () => {
    await save();
    await timeIt();
    say("Saved and checked.");
  }),
);
find("run").addEventListener("click", (event) =>
  doing(event.currentTarget, async () => {
    const wasCosted = costedText === text.value;
    await save();
    if (!wasCosted) {
      await timeIt();
      say(`This is what it takes. Press “${head.dataset.go}” to begin.`);
      return;
    }
    say("Starting …");
    await ask("POST", `/api/campaigns/${encodeURIComponent(name)}/run`);
    savedText = text.value;
    location.assign(`/campaigns/${encodeURIComponent(name)}`);
  }),
);

// Something changed the file meanwhile.
find("read-again").addEventListener("click", (event) =>
  doing(event.currentTarget, async () => {
    const there = await ask("GET", api);
    before.push(text.value);
    ({ text: text.value, digest } = there);
    savedText = there.text;
    find("conflict").hidden = true;
    await readText();
    say("This is what lies on disk. “Take back” brings your own text in again.");
  }),
);
find("overwrite").addEventListener("click", (event) =>
  doing(event.currentTarget, async () => {
    await save(true);
    say("Saved over what was on disk.");
  }),
);

// Copies and deletion, each in a dialog.
const copying = find("copying");
function openCopy(isMine) {
  copying.dataset.isMine = isMine ? "yes" : "";
  copying.showModal();
}
find("copy").addEventListener("click", () => openCopy(text.value !== savedText));
find("keep-as").addEventListener("click", () => openCopy(true));
find("copy-form").addEventListener("submit", (event) => {
  event.preventDefault();
  doing(find("copy-now"), async () => {
    const asked = { name: find("copy-name").value };
    if (copying.dataset.isMine) asked.text = text.value;
    try {
      await ask("POST", `${api}/copy`, asked);
    } catch (error) {
      find("copy-wrong").textContent = error.message;
      return;
    }
    savedText = text.value;
    location.assign(`/plans/${encodeURIComponent(asked.name)}`);
  });
});
find("delete").addEventListener("click", () => find("deleting").showModal());
find("delete-now").addEventListener("click", (event) =>
  doing(event.currentTarget, async () => {
    await ask("DELETE", api);
    savedText = text.value;
    location.assign("/");
  }),
);
for (const button of document.querySelectorAll("dialog .close")) {
  button.addEventListener("click", () => button.closest("dialog").close());
}
addEventListener("beforeunload", (event) => {
  if (text.value !== savedText) event.preventDefault();
});

bar.prepend(find("say")); // seen wherever the page is scrolled to
inTurn(async () => {
  description = await ask("GET", "/api/plan-form");
  showState(await ask("POST", `${api}/form`, { text: text.value }));
  bar.hidden = false;
});
