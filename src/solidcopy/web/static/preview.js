import { ask, say } from "/static/bench.js";
import { part } from "/static/trial_parts.js";
import { trialView } from "/static/trial_view.js";

const name = encodeURIComponent(part("title").dataset.name);
const form = part("choose");
const base = `/api/plans/${name}/preview`;

function query() {
  const asked = new URLSearchParams({ condition: form.condition.value, index: form.index.value || 0 });
  if (form.nothing.checked) asked.set("sent", "false");
  else asked.set("axis_value", form.axis_value.value);
  return asked;
}

const view = trialView({
  fetchView: (muted) => ask("GET", `${base}?${query()}${muted}`),
  soundOf: (muted) => `${base}/sound?${query()}${muted}`,
});

function option(value, words) {
  const made = document.createElement("option");
  made.value = value;
  made.textContent = words;
  return made;
}

function changed() {
  if (!form.reportValidity()) return;
  form.axis_value.disabled = form.nothing.checked;
  part("before").disabled = Number(form.index.value) === 0;
  history.replaceState(null, "", `?${query()}`);
  view.refresh();
}

function step(by) {
  form.index.value = Math.max(Number(form.index.value) + by, 0);
  changed();
}

async function begin() {
  const choices = await ask("GET", `/api/plans/${name}/choices`);
  const asked = new URLSearchParams(location.search);
  form.condition.append(...choices.conditions.map((words, place) => option(place + 1, words)));
  form.axis_value.append(...choices.values.map((value) => option(value, `${value} ${choices.unit}`.replace("-", "−").trim())));
  part("axis-name").textContent = choices.axis;
  form.condition.value = asked.get("condition") ?? 1;
  form.axis_value.value = asked.get("axis_value") ?? choices.middle;
  form.index.value = asked.get("index") ?? 0;
  form.nothing.checked = asked.get("sent") === "false";
  if (!form.condition.value) form.condition.value = 1;
  if (!form.axis_value.value) form.axis_value.value = choices.middle;
  changed();
}

form.addEventListener("submit", (event) => event.preventDefault());
form.condition.addEventListener("change", () => {
  view.unmute();
  changed();
});
for (const field of [form.axis_value, form.index, form.nothing]) field.addEventListener("change", changed);
part("before").addEventListener("click", () => step(-1));
part("after").addEventListener("click", () => step(1));
begin().catch((error) => say(error.message));
