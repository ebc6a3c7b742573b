import { ask, doing } from "/static/bench.js";

const EVERY_MS = 1000;
const LABELS = {
  page: "Report (HTML)",
  pdf: "Report (PDF)",
  tables: "Tables (CSV, zipped)",
  facts: "All numbers (JSON)",
  package: "Package (zip)",
};

function size(bytes) {
  return bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

function fileItem(name, file) {
  const item = document.createElement("li");
  const link = document.createElement("a");
  link.href = `/api/reports/${encodeURIComponent(name)}/files/${file.kind}`;
  link.download = "";
  link.textContent = LABELS[file.kind];
  const about = document.createElement("span");
  about.className = "small soft";
  const when = file.written_utc.replace("T", " ").replace("+00:00", " UTC");
  about.textContent = `${size(file.n_bytes)}, ${when}${file.is_older ? "; older than the journal" : ""}`;
  item.append(link, about);
  return item;
}

const WRITING = "Writing the report; other pages go on meanwhile.";
const PACKING = "Packing; other pages go on meanwhile.";

function sentence(found) {
  if (found.writing.is_running) return WRITING;
  if (found.packing.is_running) return PACKING;
  return [found.writing.failure, found.packing.failure].filter(Boolean).join(" ");
}

function card(item) {
  const { name } = item.dataset;
  const path = `/api/reports/${encodeURIComponent(name)}`;
  const buttons = [...item.querySelectorAll("button")];
  const [write, pack] = buttons;
  const words = item.querySelector(".doing");
  let kept = "";
  let timer;

  function later(ms) {
    clearTimeout(timer);
    timer = setTimeout(look, ms);
  }

  function show(found) {
    const isBusy = found.writing.is_running || found.packing.is_running;
    for (const button of buttons) button.disabled = isBusy;
    words.textContent = sentence(found);
    words.classList.toggle("bad", !isBusy && words.textContent !== "");
    words.classList.toggle("soft", isBusy);
    const told = JSON.stringify(found.files);
    if (told !== kept) item.querySelector(".files").replaceChildren(...found.files.map((file) => fileItem(name, file)));
    kept = told;
    if (isBusy) later(EVERY_MS);
  }

  async function look() {
    try {
      show(await ask("GET", path));
    } catch (error) {
      words.textContent = error.message;
      later(3 * EVERY_MS);
    }
  }

  async function answer() {
    const place = item.querySelector(".answer");
    try {
      place.textContent = (await ask("GET", `/api/campaigns/${encodeURIComponent(name)}/answer`)).sentence;
    } catch (error) {
      place.textContent = error.message;
    }
  }

  function begin(button, address, sentenceMeanwhile) {
    words.textContent = sentenceMeanwhile;
    doing(button, async () => show(await ask("POST", address))).then(look);
  }

  write.addEventListener("click", () => begin(write, path, WRITING));
  pack.addEventListener("click", () => begin(pack, `${path}/package`, PACKING));
  look();
  return answer;
}

// One after the other: an answer may take a moment, and the first ones are the newest.
const answers = [...document.querySelectorAll("#campaigns > li")].map(card);
for (const answer of answers) await answer();
