import { ask, doing, say } from "/static/bench.js";
import { CHANGED, contenders } from "/static/duel_contenders.js";
import { drawCurves, drawPath, table } from "/static/duel_tables.js";

const LEAST_PAUSE_MS = 1500;
const REST_PER_WORK = 4;
const part = (id) => document.getElementById(id);
const [begin, create] = [part("begin"), part("new")];
let shown = null; // { name, first, second, difference } of the duel on the page
let wasRunning = false;
let timer;

const all = await contenders();
const two = all.filter((one) => one.receivers.length > 1);

function options(select, words, chosen = 0) {
  select.replaceChildren(...words.map((text, k) => new Option(text, k + 1, k === chosen, k === chosen)));
}

function choosePlan() {
  const plan = two.find((one) => one.name === begin.name.value);
  options(begin.first, plan?.receivers ?? []);
  options(begin.second, plan?.receivers ?? [], 1);
}

function fill() {
  begin.elements.name.replaceChildren(...two.map((one) => new Option(one.name)));
  part("no-plan").hidden = two.length > 0;
  for (const button of begin.querySelectorAll("button")) button.disabled = !two.length;
  const plans = all.filter((one) => !one.trouble);
  create.base.replaceChildren(...plans.map((one) => new Option(one.name)));
  create.querySelector("button").disabled = !plans.length;
}

const chosen = () => ({
  name: begin.elements.name.value,
  first: Number(begin.first.value),
  second: Number(begin.second.value),
  difference: begin.difference.value ? Number(begin.difference.value) : null,
});

function address(action = "") {
  const query = new URLSearchParams({ first: shown.first, second: shown.second });
  if (shown.difference) query.set("difference", shown.difference);
  return `/api/duels/${encodeURIComponent(shown.name)}${action}?${query}`;
}

function open(asked) {
  shown = asked;
  const query = new URLSearchParams({ name: asked.name, first: asked.first, second: asked.second });
  if (asked.difference) query.set("difference", asked.difference);
  history.replaceState(null, "", `/duel?${query}`);
  part("open").href = `/campaigns/${encodeURIComponent(asked.name)}/duel?${query}`;
}

function items(list, sentences) {
  list.replaceChildren(...sentences.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
}

function conditionBox(name) {
  const box = document.createElement("section");
  box.className = "condition";
  const head = Object.assign(document.createElement("h3"), { textContent: name });
  const messages = Object.assign(document.createElement("p"), { className: "soft small messages" });
  const charts = Object.assign(document.createElement("div"), { className: "columns" });
  charts.append(...["curves", "path"].map((kind) => Object.assign(document.createElement("div"), { className: `plot ${kind}` })));
  const tables = Object.assign(document.createElement("div"), { className: "tables" });
  box.append(head, messages, charts, tables);
  return box;
}

function showConditions(found, names) {
  const host = part("conditions");
  const isSame = [...host.querySelectorAll("h3")].map((head) => head.textContent).join() === found.conditions.map((one) => one.name).join();
  if (!isSame) host.replaceChildren(...found.conditions.map((one) => conditionBox(one.name)));
  found.conditions.forEach((condition, k) => {
    const box = host.children[k];
    box.querySelector(".messages").textContent = condition.messages;
    drawCurves(box.querySelector(".curves"), condition, found.axis_label, names);
    drawPath(box.querySelector(".path"), condition);
    box.querySelector(".tables").replaceChildren(...table(condition.pairs));
  });
}

function show(found) {
  part("view").hidden = false;
  part("view-title").textContent = found.title;
  part("sentence").textContent = found.sentence;
  items(part("supports"), found.supports);
  part("bar").max = found.n_planned;
  part("bar").value = found.n_done;
  const state = found.is_running ? "running" : found.is_finished ? "finished" : "stopped";
  part("far").textContent = `${found.n_done} of at most ${found.n_planned} outcomes, ${state}`;
  part("failure").textContent = found.failure;
  part("stop").disabled = !found.is_running;
  const isKnown = found.name_a !== null;
  part("reveal").hidden = isKnown;
  part("names").textContent = isKnown ? `A is “${found.name_a}”, B is “${found.name_b}”.` : "";
  part("record").textContent = found.record;
  part("tables").replaceChildren(...table(found.verdicts), ...table(found.false_decodes));
  showConditions(found, isKnown ? [`A: ${found.name_a}`, `B: ${found.name_b}`] : ["A", "B"]);
}

async function look() {
  clearTimeout(timer);
  const asked = shown;
  const began = performance.now();
  const found = await ask("GET", address());
  if (asked !== shown) return;
  show(found);
  if (wasRunning && !found.is_running) document.dispatchEvent(new Event(CHANGED));
  wasRunning = found.is_running;
  const pause = Math.max(LEAST_PAUSE_MS, REST_PER_WORK * (performance.now() - began));
  if (found.is_running) timer = setTimeout(() => look().catch((error) => say(error.message)), pause);
}

begin.elements.name.addEventListener("change", choosePlan);
begin.addEventListener("submit", (event) => {
  event.preventDefault();
  doing(begin.querySelector("button"), async () => {
    const asked = chosen();
    say("Starting; this page shows it as it grows.");
    await ask("POST", "/api/duels", { ...asked, same_message: begin.same_message.value || null });
    say("");
    document.dispatchEvent(new Event(CHANGED));
    open(asked);
    await look();
    part("view").scrollIntoView();
  });
});
part("look").addEventListener("click", () =>
  doing(part("look"), async () => {
    open(chosen());
    await look();
    part("view").scrollIntoView();
  }),
);
part("stop").addEventListener("click", () =>
  doing(part("stop"), async () => {
    say("Stopping; nothing that was tried is lost.");
    await ask("POST", `/api/duels/${encodeURIComponent(shown.name)}/stop`);
    say("");
  }).then(look),
);
part("reveal").addEventListener("click", () =>
  doing(part("reveal"), async () => {
    say("Writing the verdict down, then the names.");
    show(await ask("POST", address("/reveal")));
    say("");
  }),
);
create.addEventListener("submit", (event) => {
  event.preventDefault();
  doing(create.querySelector("button"), async () => {
    const level = (side) => ({ effort: create[`${side}_effort`].value, passes: Number(create[`${side}_passes`].value) });
    const made = await ask("POST", "/api/duel-plans", {
      name: create.elements.name.value,
      base: create.base.value,
      first: level("first"),
      second: level("second"),
      at_most: create.decided.checked ? Number(create.at_most.value) : null,
    });
    location.assign(`/duel?name=${encodeURIComponent(made.name)}`);
  });
});
create.decided.addEventListener("change", () => (create.at_most.disabled = !create.decided.checked));

fill();
const query = new URLSearchParams(location.search);
if (two.some((one) => one.name === query.get("name"))) begin.elements.name.value = query.get("name");
choosePlan();
create.second_effort.selectedIndex = 1;
if (query.has("first")) {
  begin.first.value = query.get("first");
  begin.second.value = query.get("second");
  begin.difference.value = query.get("difference") ?? "";
  open(chosen());
  await look().catch((error) => say(error.message));
}
