import { ask, say } from "/static/bench.js";
import { offerDelete } from "/static/noise-delete.js";

const key = document.querySelector('meta[name="bench-key"]').content;
const drop = document.getElementById("drop");
const files = document.getElementById("files");
const coming = document.getElementById("coming");

function element(kind, words, look) {
  const made = document.createElement(kind);
  if (words) made.textContent = words;
  if (look) made.className = look;
  return made;
}

// One line of the list: name, how far, a button that stops it.
function line(file) {
  const [item, words, bar] = [element("li"), element("span", file.name, "words"), element("progress")];
  const stop = element("button", "Cancel", "plain");
  stop.type = "button";
  stop.setAttribute("aria-label", `Cancel ${file.name}`);
  bar.max = file.size || 1;
  bar.value = 0;
  bar.setAttribute("aria-label", `How much of ${file.name} came in`);
  item.append(words, bar, stop);
  coming.append(item);
  return { item, words, bar, stop };
}

// fetch() tells nothing about how much was sent, so this is the older kind of request.
function send(file, name, shown) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("PUT", `/api/recordings/${encodeURIComponent(name)}`);
    request.setRequestHeader("x-bench-key", key);
    request.setRequestHeader("content-type", "application/octet-stream");
    request.responseType = "json";
    request.upload.addEventListener("progress", (event) => {
      shown.bar.value = event.loaded;
      const share = Math.floor((100 * event.loaded) / (file.size || 1));
      shown.words.textContent = share < 100 ? `${name}: ${share} %` : `${name}: is checked …`;
    });
    request.addEventListener("load", () => {
      if (request.status === 201) resolve(request.response);
      else reject(new Error(request.response?.sentence ?? "The bench refused it."));
    });
    const broken = "It was broken off, and nothing of it was kept. Is the bench still running?";
    request.addEventListener("error", () => reject(new Error(broken)));
    request.addEventListener("abort", () => reject(new Error("Cancelled; nothing of it was kept.")));
    shown.stop.addEventListener("click", () => request.abort());
    request.send(file);
  });
}

function told(shown, words, isBad) {
  shown.words.textContent = words;
  shown.words.classList.toggle("bad", isBad);
  shown.bar.remove();
  shown.stop.remove();
  say(words);
}

async function take(file) {
  const shown = line(file);
  try {
    const query = new URLSearchParams({ file_name: file.name, n_bytes: file.size });
    const offer = await ask("GET", `/api/recording-name?${query}`);
    const taken = await send(file, offer.name, shown);
    const link = element("a", taken.name);
    link.href = `/noise/${encodeURIComponent(taken.name)}`;
    const odd = taken.findings.map((finding) => `${finding}.`).join(" ");
    told(shown, ` is here. ${offer.sentence} ${odd}`, false);
    shown.words.prepend(link);
    say(`${taken.name} is here.`);
    return taken.name;
  } catch (error) {
    told(shown, `${file.name}: ${error.message}`, true);
    return null;
  }
}

// One after the other: two at once would only share the disk.
async function takeAll(list) {
  const chosen = [...list];
  const taken = [];
  for (const file of chosen) taken.push(await take(file));
  if (chosen.length === 1 && taken[0]) {
    location.assign(`/noise/${encodeURIComponent(taken[0])}`);
  } else if (taken.some(Boolean)) {
    refresh();
  }
}

// The table anew, from the page itself.
async function refresh() {
  const text = await (await fetch("/noise")).text();
  const found = new DOMParser().parseFromString(text, "text/html");
  document.getElementById("recordings").replaceWith(found.getElementById("recordings"));
  armDelete();
}

function armDelete() {
  for (const opener of document.querySelectorAll("[data-delete]")) {
    offerDelete(opener, () => {
      say(`${opener.dataset.delete} is deleted.`);
      refresh();
    });
  }
}

files.addEventListener("change", () => {
  takeAll(files.files);
  files.value = "";
});
for (const kind of ["dragenter", "dragover"]) {
  document.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
}
document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) drop.classList.remove("over");
});
document.addEventListener("drop", (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  takeAll(event.dataTransfer.files);
});
armDelete();
