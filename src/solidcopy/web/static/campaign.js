import { ask, doing, say } from "/static/bench.js";

const EVERY_MS = 1000;
const name = encodeURIComponent(document.getElementById("title").dataset.name);
const [run, stop, bar, far, tables, answer] = ["run", "stop", "bar", "far", "tables", "answer"].map(
  (id) => document.getElementById(id),
);
let wasRunning = null;

function cell(kind, words, scope) {
  const made = document.createElement(kind);
  made.textContent = words;
  if (scope) made.scope = scope;
  return made;
}

function row(...cells) {
  const made = document.createElement("tr");
  made.append(...cells);
  return made;
}

function table(curve) {
  const made = document.createElement("table");
  made.append(cell("caption", `${curve.condition_name}, ${curve.receiver_name}`));
  made.append(row(...["axis value", "decoded", "of"].map((words) => cell("th", words, "col"))));
  for (const point of curve.points) {
    const value = cell("th", point.axis_value, "row");
    made.append(row(value, cell("td", point.n_decoded), cell("td", point.n_scored)));
  }
  return made;
}

async function look() {
  try {
    const state = await ask("GET", `/api/campaigns/${name}`);
    bar.max = state.n_planned;
    bar.value = state.n_done;
    const doing = state.is_running ? "running" : state.is_finished ? "finished" : "stopped";
    far.textContent = `${state.n_done} of ${state.n_planned}, ${doing}`;
    run.disabled = state.is_running || state.is_finished;
    stop.disabled = !state.is_running;
    tables.replaceChildren(...state.curves.map(table));
    if (wasRunning && !state.is_running) {
      answer.textContent = (await ask("GET", `/api/campaigns/${name}/answer`)).sentence;
    }
    wasRunning = state.is_running;
  } catch (error) {
    say(error.message);
  }
  setTimeout(look, EVERY_MS);
}

run.addEventListener("click", () => doing(run, () => ask("POST", `/api/campaigns/${name}/run`)));
stop.addEventListener("click", () => doing(stop, () => ask("POST", `/api/campaigns/${name}/stop`)));
look();
