// What preview and trial page share: sources with their mutes, sound, pictures, symbols, levels.
import { say } from "/static/bench.js";
import { quiet } from "/static/quiet.js";
import { heads, part, table } from "/static/trial_parts.js";
import { drawPictures, drawSymbols, followPlayer } from "/static/trial_pictures.js";

const player = part("player");
const muted = new Set();
let shown = null;
let soundUrl = null;
let asked = 0;

const db = (value, places = 1) => (value === null ? "none" : value.toFixed(places).replace("-", "−"));

// `fetchView` and `soundOf` take the query of what is muted; `fetchView` gives a view.
export function trialView({ fetchView, soundOf, onView = () => {} }) {
  quiet(player, part("volume"));
  followPlayer(player, () => shown?.slot_s ?? 15);
  for (const choice of document.querySelectorAll('input[name="treatment"]')) {
    choice.addEventListener("change", () => shown && showSymbols(shown));
  }
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => shown && drawPictures(shown));

  // Makes all anew; an answer that is overtaken by a later question is dropped.
  async function refresh() {
    const turn = ++asked;
    const trial = document.querySelector(".trial");
    trial.setAttribute("aria-busy", "true");
    say("Making the trial …");
    try {
      const query = [...muted].sort((a, b) => a - b).map((number) => `&mute=${number}`).join("");
      const view = await fetchView(query);
      if (turn !== asked) return;
      show(view);
      onView(view);
      await listen(soundOf(query), turn);
      if (turn === asked) say(view.is_muted ? "Made without what is muted." : "The whole trial is shown.");
    } catch (error) {
      if (turn === asked) say(error.message);
    } finally {
      if (turn === asked) trial.setAttribute("aria-busy", "false");
    }
  }

  function show(view) {
    shown = view;
    part("trial-words").textContent = sentence(view);
    const gone = view.sources.filter((source) => source.is_muted).map((source) => source.called);
    part("muted-words").hidden = !view.is_muted;
    part("muted-words").textContent = view.is_muted
      ? `Not a trial of the campaign: made without ${gone.join(", ")}. What is left keeps the level that it has in the whole.`
      : "";
    showSources(view, toggle);
    showSound(view);
    showLevels(view);
    drawPictures(view);
    showSymbols(view);
  }

  function toggle(number) {
    if (!muted.delete(number)) muted.add(number);
    refresh();
  }

  return { refresh, unmute: () => muted.clear() };
}

function sentence(view) {
  if (!view.sent) return `${view.words}.`;
  const { text, audio_hz, offset_s } = view.sent;
  const late = `${offset_s < 0 ? "" : "+"}${db(offset_s, 2)} s`;
  return `${view.words}: “${text}” at ${db(audio_hz, 1)} Hz, start ${late}.`;
}

async function listen(url, turn) {
  const answer = await fetch(url);
  if (!answer.ok) throw new Error((await answer.json()).sentence);
  const sound = await answer.blob();
  if (turn !== asked) return;
  const at = player.currentTime;
  const wasPlaying = !player.paused && !player.ended;
  if (soundUrl) URL.revokeObjectURL(soundUrl);
  soundUrl = URL.createObjectURL(sound);
  player.src = soundUrl;
  player.currentTime = at;
  if (wasPlaying) await player.play();
}

function showSources(view, toggle) {
  const had = document.activeElement?.dataset?.number;
  part("sources").replaceChildren(
    ...view.sources.map((source) => {
      const item = document.createElement("li");
      item.className = source.is_muted ? "is-muted" : "";
      const head = document.createElement("div");
      head.className = "head";
      const name = document.createElement("strong");
      name.textContent = source.name;
      head.append(heads(source), name);
      if (source.can_mute) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "plain";
        button.textContent = "Mute";
        button.dataset.number = source.number;
        button.setAttribute("aria-label", `Mute ${source.called}`);
        button.setAttribute("aria-pressed", String(source.is_muted));
        button.addEventListener("click", () => toggle(source.number));
        head.append(button);
      }
      const place = document.createElement("p");
      place.textContent = source.is_muted ? `Muted. ${source.place}` : source.place;
      const more = document.createElement("details");
      const summary = document.createElement("summary");
      summary.textContent = `Asked of the ${source.called}`;
      const list = document.createElement("ul");
      list.append(
        ...source.numbers.map((words) => {
          const line = document.createElement("li");
          line.textContent = words;
          return line;
        }),
      );
      more.append(summary, list);
      item.append(head, place, more);
      return item;
    }),
  );
  if (had !== undefined) part("sources").querySelector(`[data-number="${had}"]`)?.focus();
}

function showSound({ sound }) {
  const over = sound.n_clipped ? `, ${sound.n_clipped} samples beyond full scale` : "";
  part("sound").textContent =
    sound.peak_dbfs === null
      ? "Silence."
      : `As it is: peak ${db(sound.peak_dbfs)} dBFS, mean (rms) ${db(sound.rms_dbfs)} dBFS, crest ${db(sound.crest_db)} dB${over}.`;
}

function showLevels(view) {
  const rows = view.levels.map((level) => [
    level.name,
    level.quantity,
    level.asked_db === null ? "as recorded" : `${db(level.asked_db, 2)} dB`,
    level.got_db === null ? "none" : `${db(level.got_db, 2)} dB`,
    level.words,
    `${db(level.spread_db, 2)} dB`,
    db(level.mean_dbfs),
    db(level.while_on_dbfs),
    db(level.peak_dbfs),
  ]);
  const columns = ["source", "level", "asked", "got", "difference", "spread by chance", "mean, dBFS", "while on, dBFS", "peak, dBFS"];
  table(part("levels"), columns, rows, [0, 1, 4]);
  const signal = view.sent?.signal_dbfs;
  const own = signal === undefined || signal === null ? "" : `The wanted signal has ${db(signal)} dBFS while it transmits. `;
  part("level-words").textContent = `${own}Every SNR and I/N refers to the noise in ${view.reference_bandwidth_hz} Hz. All of this is of the whole trial, measured in front of the receiver's chain, whatever is muted. Gain of the mix: ${db(view.sound.gain_db, 2)} dB.`;
}

function showSymbols(view) {
  part("symbols-there").hidden = !view.symbols;
  part("no-symbols").hidden = Boolean(view.symbols);
  part("no-symbols").textContent = view.no_symbols;
  if (!view.symbols) return;
  const treatment = document.querySelector('input[name="treatment"]:checked').value;
  const row = view.symbols[treatment];
  part("symbol-counts").textContent = row.counts;
  part("symbol-words").textContent = row.words;
  drawSymbols(view, row, (symbol) => {
    player.currentTime = Math.max(symbol.at_s - 0.2, 0);
    say(`${symbol.words}. The player stands just before it.`);
  });
  part("wrong-symbols").replaceChildren(
    ...row.symbols
      .filter((symbol) => symbol.margin_db !== null && symbol.margin_db < 0 && symbol.role !== "ramp")
      .map((symbol) => {
        const line = document.createElement("li");
        line.textContent = symbol.words;
        return line;
      }),
  );
}
