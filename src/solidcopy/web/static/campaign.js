// One campaign: looks at the journal through the server again and again, so that a reload, a second
// window or a killed server make no difference. The run is a process of its own.
import { ask, doing, say } from "/static/bench.js";
import { showAgainst } from "/static/campaign_against.js";
import { showCurves } from "/static/campaign_curves.js";
import { showMaps } from "/static/campaign_maps.js";
import { showNumbers } from "/static/campaign_tables.js";
import { openPoint, refreshPoint } from "/static/campaign_trials.js";
import { showOthers, showScales, view } from "/static/campaign_view.js";

const EVERY_MS = 1000;
const IDLE_EVERY_MS = 3000;
const SILENT = "The bench does not answer. A run that was started goes on; this page looks again every second.";

const element = (id) => document.getElementById(id);
const name = element("title").dataset.name;
const address = `/api/campaigns/${encodeURIComponent(name)}`;
const [run, stop, retry] = ["run", "stop", "retry"].map(element);
let results = null;
let beside = null;
let wanted = null;
let isFetching = false;
let isSilent = false;

function standing(state) {
  if (state.is_running) return "running";
  if (!state.is_begun) return "not begun";
  return state.is_finished ? "finished" : "stopped";
}

function showRun(state) {
  const word = standing(state);
  element("standing").textContent = word;
  element("bar").max = state.n_planned || 1;
  element("bar").value = state.n_done;
  const failed = state.n_failed ? `, ${state.n_failed} failed` : "";
  element("far").textContent = state.is_begun ? `${state.n_done} of ${state.n_planned}, ${word}${failed}` : "";
  element("pace").textContent = state.pace;
  const starts = state.is_running && !state.pace ? "Its processes are starting, or the first trials are not done yet." : "";
  element("work").textContent = state.at_work ? `At work: ${state.at_work}.` : starts;
  element("trouble").hidden = !state.last_words;
  element("trouble").textContent = state.last_words ? `The last run ended by itself. It said: ${state.last_words}` : "";
  run.textContent = state.is_begun ? "Go on" : "Begin";
  run.disabled = state.is_running || state.is_finished;
  stop.disabled = !state.is_running;
  retry.hidden = state.is_running || !state.n_failed;
  element("stop-words").hidden = !state.is_running;
  element("report").hidden = !state.is_begun;
}

function showAnswer() {
  element("answer").textContent = results.headline;
  const items = results.supports.map((sentence) => {
    const item = document.createElement("li");
    item.textContent = sentence;
    return item;
  });
  element("supports").replaceChildren(...items);
  element("more").hidden = !items.length;
}

function show() {
  element("results").hidden = false;
  showAnswer();
  showScales(results.axis, () => fetchResults());
  const pick = (of, point) => openPoint({ campaign: of, ...point });
  showCurves(name, results, beside, pick);
  showAgainst(name, results, beside);
  showMaps(name, results, pick);
  showNumbers(results, beside);
  refreshPoint();
}

// The other campaign's results are asked for once for each scale: it is laid over, not watched.
async function fetchBeside() {
  if (!view.over) return null;
  const isKnown = beside?.name === view.over && beside.results.axis.scale === view.scale;
  if (isKnown && !beside.results.is_preliminary) return beside;
  const found = await ask("GET", `/api/campaigns/${encodeURIComponent(view.over)}/results?scale=${view.scale}`);
  return { name: view.over, results: found };
}

async function fetchResults() {
  if (isFetching) return (wanted = fetchResults);
  isFetching = true;
  try {
    results = await ask("GET", `${address}/results?scale=${encodeURIComponent(view.scale)}`);
    beside = await fetchBeside();
    show();
  } catch (error) {
    say(error.message);
  } finally {
    isFetching = false;
    const next = wanted;
    wanted = null;
    next?.();
  }
}

async function look() {
  const state = await ask("GET", address);
  if (isSilent) say("");
  isSilent = false;
  showRun(state);
  const isNew = state.stamp !== results?.stamp || beside?.results.is_preliminary;
  if (!state.is_begun || !isNew) return state;
  if (!results) showOthers(await ask("GET", `${address}/beside`), fetchResults);
  if (!isFetching) fetchResults();
  return state;
}

async function watch() {
  let pause = EVERY_MS;
  try {
    const state = await look();
    const isSettled = !state.is_running && (!state.is_begun || state.stamp === results?.stamp);
    if (isSettled) pause = IDLE_EVERY_MS;
  } catch (error) {
    isSilent = error.message.startsWith("The bench does not answer");
    say(isSilent ? SILENT : error.message);
  }
  setTimeout(watch, pause);
}

async function command(button, words, path) {
  say(words);
  await doing(button, async () => {
    await ask("POST", `${address}/${path}`);
    say("");
  });
  await look().catch((error) => say(error.message));
}

run.addEventListener("click", () => command(run, "Starting …", "run"));
retry.addEventListener("click", () => command(retry, "Starting …", "run?retry_failed=true"));
stop.addEventListener("click", () => command(stop, "Stopping: what is being tried is finished first …", "stop"));
watch();
