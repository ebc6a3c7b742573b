import { ask, doing, say } from "/static/bench.js";

const EVERY_MS = 1000;
const form = document.getElementById("live");
const part = (id) => document.getElementById(id);
const fields = form?.elements;

const path = () => `/api/live/plans/${encodeURIComponent(chosen().value)}`;

function chosen() {
  return fields.plan.selectedOptions[0];
}

function pick(select, value) {
  if (![...select.options].some((one) => one.value === value)) select.add(new Option(value, value));
  select.value = value;
}

// What has to be confirmed is confirmed for one output; another one asks again.
function showConfirm() {
  const is_known = chosen().dataset.confirmed === "true" && chosen().dataset.output === fields.output.value;
  part("confirm").hidden = is_known;
  fields.confirmed.required = !is_known;
}

function showPlan() {
  const { output, every, gain, stations } = chosen().dataset;
  pick(fields.output, output);
  fields.every.value = every;
  fields.gain.value = Number(gain);
  part("stations").textContent = `Listens: ${stations}`;
  part("curve").href = `/campaigns/${encodeURIComponent(chosen().value)}`;
  fields.confirmed.checked = false;
  showConfirm();
}

function cell(kind, words, scope) {
  const made = document.createElement(kind);
  made.textContent = words;
  if (scope) made.scope = scope;
  return made;
}

const clock = (utc) => (utc ? utc.slice(11, 21).replace(/\.0$|\+.*$/, "") : "");

function row(slot) {
  const made = document.createElement("tr");
  const came = slot.void ? `void: ${slot.void}` : [slot.verdict, ...slot.decodes.filter((text) => text !== slot.sent)].join("; ");
  made.append(cell("th", clock(slot.utc), "row"), cell("td", slot.condition), cell("td", String(slot.axis_value).replace("-", "−")), cell("td", slot.sent ?? "nothing"), cell("td", came));
  [0, 1, 3, 4].forEach((k) => made.children[k].classList.add("words"));
  return made;
}

function show(state) {
  part("bar").max = Math.max(state.n_planned, 1);
  part("bar").value = state.n_done;
  const again = state.n_void ? `, ${state.n_void} void and played again` : "";
  part("far").textContent = state.n_planned ? `${state.n_done} of ${state.n_planned} trials${again}` : "";
  const sent = state.now_utc ? `${clock(state.now_utc)}: ${state.now_sent ?? "nothing is sent"}` : "";
  const words = [state.message, sent].filter(Boolean).join(". ") || "not begun";
  part("now").textContent = `${words[0].toUpperCase()}${words.slice(1)}.`;
  part("slots").replaceChildren(...state.slots.map(row));
  part("play").disabled = state.is_playing;
  ["pause", "skip", "stop"].forEach((id) => (part(id).disabled = !state.is_playing));
  part("pause").textContent = state.is_paused ? "Go on" : "Pause";
}

async function look() {
  try {
    show(await ask("GET", path()));
  } catch (error) {
    say(error.message);
  }
  setTimeout(look, EVERY_MS);
}

async function listCards() {
  try {
    for (const card of await ask("GET", "/api/live/cards")) {
      if (card.n_outputs) fields.output.add(new Option(card.name, card.name));
      if (card.n_inputs) fields.input.add(new Option(card.name, card.name));
    }
  } catch (error) {
    say(error.message);
  }
}

function play() {
  const asked = {
    output: fields.output.value,
    every: Number(fields.every.value),
    gain_db: Number(fields.gain.value),
    own_ear: fields.ear.value === "own" ? fields.input.value : null,
    is_confirmed: fields.confirmed.checked,
  };
  return doing(part("play"), async () => {
    say("Starting …");
    show(await ask("POST", `${path()}/play`, asked));
    chosen().dataset.output = asked.output;
    chosen().dataset.confirmed = "true";
    showConfirm();
    say("");
  });
}

function showPath(state) {
  part("check").disabled = state.is_checking;
  part("checking").textContent = state.is_checking ? `Playing and listening, ${Math.round(state.lasts_s)} s …` : state.failure;
  part("told").hidden = !state.told;
  part("told").textContent = state.told;
  if (state.is_checking) setTimeout(lookAtPath, EVERY_MS);
}

async function lookAtPath() {
  try {
    showPath(await ask("GET", "/api/live/path"));
  } catch (error) {
    say(error.message);
  }
}

function checkPath() {
  const is_confirmed = part("confirm").hidden || fields.confirmed.checked;
  const asked = { output: fields.output.value, source: fields.input.value, is_confirmed };
  return doing(part("check"), async () => {
    say("");
    showPath(await ask("POST", "/api/live/path", asked));
  });
}

if (form) {
  part("check").addEventListener("click", checkPath);
  fields.plan.addEventListener("change", showPlan);
  fields.output.addEventListener("change", showConfirm);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    play();
  });
  part("stop").addEventListener("click", () =>
    doing(part("stop"), async () => {
      say("Stopping after the station's answers …");
      show(await ask("POST", `${path()}/stop`));
      say("");
    }),
  );
  const wish = (id, word) =>
    part(id).addEventListener("click", () =>
      doing(part(id), async () => show(await ask("POST", `${path()}/wish/${word()}`))),
    );
  wish("pause", () => (part("pause").textContent === "Pause" ? "pause" : "go-on"));
  wish("skip", () => "skip");
  await listCards();
  showPlan();
  look();
  lookAtPath();
}
