// The command that tries an outside program: composed here, typed by a person.
import { ask, doing, say } from "/static/bench.js";

const part = (id) => document.getElementById(id);
const form = part("program");
const NUMBERS = new Set(["sample_rate_hz", "channels", "snr_reference_hz", "time_limit_s"]);

function fit() {
  for (const box of form.querySelectorAll("[data-kind]")) {
    box.hidden = !box.dataset.kind.split(" ").includes(form.kind.value);
  }
}

function answers() {
  const body = {};
  for (const field of form.elements) {
    if (!field.name || field.name === "kind" || field.closest("[hidden]") || !field.value) continue;
    body[field.name] = NUMBERS.has(field.name) ? Number(field.value) : field.value;
  }
  if (["json-lines", "columns"].includes(form.kind.value)) body.answer = form.kind.value;
  return body;
}

form.kind.addEventListener("change", fit);
form.addEventListener("submit", (event) => {
  event.preventDefault();
  part("composed").hidden = true;
  say("");
  doing(form.querySelector("button"), async () => {
    const found = await ask("POST", "/api/receivers/command", answers());
    part("typed").textContent = found.command;
    part("append").textContent = found.append;
    part("notes").replaceChildren(...found.notes.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
    part("composed").hidden = false;
    part("typed").focus();
  });
});
part("copy").addEventListener("click", async () => {
  try {
    await navigator.clipboard.writeText(part("typed").textContent);
    say("Copied.");
  } catch {
    say("The browser does not let the page copy: mark the command and copy it yourself.");
  }
});
fit();
