import { ask } from "/static/bench.js";
import { part, table } from "/static/trial_parts.js";
import { trialView } from "/static/trial_view.js";

const name = encodeURIComponent(part("title").dataset.name);
const asked = new URLSearchParams(location.search);
const base = `/api/campaigns/${name}/trial`;
let found = null;

const view = trialView({
  fetchView: async (muted) => (found = await ask("GET", `${base}?${asked}${muted}`)).view,
  soundOf: (muted) => `${base}/sound?${asked}${muted}`,
  onView: showTrial,
});

function pageOf(index) {
  const other = new URLSearchParams(asked);
  other.set("index", index);
  return `/campaigns/${name}/trial?${other}`;
}

function link(words, index) {
  const made = document.createElement("a");
  made.href = pageOf(index);
  made.textContent = words;
  return made;
}

function lead(id, index) {
  part(id).hidden = index === null;
  if (index !== null) part(id).href = pageOf(index);
}

function list(lines) {
  const made = document.createElement("div");
  for (const words of lines) {
    const line = document.createElement("div");
    line.textContent = words;
    made.append(line);
  }
  return made;
}

function decodes(answer) {
  if (answer.failure) return answer.failure;
  if (!answer.decodes.length) return "nothing";
  return list(answer.decodes.map(({ text, is_right, words }) => `${is_right ? "right" : "FALSE"}: “${text}”${words ? `, ${words}` : ""}`));
}

function showTrial() {
  lead("previous", found.previous);
  lead("next", found.next);
  part("same").textContent = found.same_words;
  part("same").className = found.is_same === false ? "caution" : "soft";
  const { sent } = found.view;
  part("sent").textContent = sent
    ? `Sent: “${sent.text}”, lowest tone ${sent.audio_hz.toFixed(1)} Hz, start ${sent.offset_s.toFixed(3).replace("-", "−")} s after the nominal one.`
    : "Nothing was sent.";
  const rows = found.answers.map((answer) => [
    answer.receiver,
    answer.verdict,
    decodes(answer),
    answer.inside,
    answer.next_missed === null ? "none" : link(`trial ${answer.next_missed}`, answer.next_missed),
  ]);
  table(part("answers"), ["receiver", "verdict", "decoded", "how", "next missed trial"], rows, [0, 1, 2, 3, 4]);
  for (const kind of ["wav", "json"]) part(kind).href = `${base}/file?${asked}&kind=${kind}`;
}

view.refresh();
