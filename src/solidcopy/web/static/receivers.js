import { ask, doing, say } from "/static/bench.js";

const part = (id) => document.getElementById(id);

function made(kind, words, className = "") {
  return Object.assign(document.createElement(kind), { textContent: words, className });
}

function slotItem(slot) {
  const item = made("li", "", slot.is_as_it_should ? "" : "off");
  const verdict = slot.name === "noise" ? (slot.is_as_it_should ? "silent, as it should be" : "reported something") : slot.is_read ? "read" : "not read";
  item.append(made("strong", `${slot.name}: ${verdict}`), ` in ${slot.elapsed_s.toFixed(2)} s`);
  item.append(made("div", slot.sent, "soft small"), made("pre", slot.lines.join("\n")));
  return item;
}

function showTry(host, found) {
  const list = made("ul", "", "tried");
  list.append(...found.slots.map(slotItem));
  const advice = document.createElement("ul");
  advice.append(...found.advice.map((words) => made("li", words)));
  host.replaceChildren(list, ...(found.advice.length ? [advice] : []));
}

async function trying(host, path, body) {
  host.replaceChildren(made("p", "Three slots are made and heard; other pages go on meanwhile.", "soft"));
  try {
    showTry(host, await ask("POST", path, body));
  } catch (error) {
    host.replaceChildren(made("p", error.message, "bad"));
  }
}

part("own").addEventListener("submit", (event) => {
  event.preventDefault();
  const { mode, effort, passes } = event.target;
  const body = { mode: mode.value, effort: effort.value, passes: Number(passes.value) };
  doing(event.target.querySelector("button"), () => trying(part("own-try"), "/api/receivers/try-builtin", body));
});

function numbers(settings) {
  const list = made("dl", "", "numbers");
  for (const [name, value] of settings.numbers) {
    const pair = document.createElement("div");
    pair.append(made("dt", name), made("dd", value));
    list.append(pair);
  }
  const box = document.createElement("details");
  box.append(made("summary", settings.head, "small"), list);
  return box;
}

function modeChoice() {
  const label = made("label", "Mode ");
  const select = part("own").mode.cloneNode(true);
  label.append(select);
  return { label, select };
}

function card(one) {
  const item = document.createElement("li");
  item.append(made("h3", one.name));
  const from = one.is_plan ? `of the plan “${one.file}”, ${one.mode.toUpperCase()}` : `of the settings receivers/${one.file}.toml, tried at the command line`;
  item.append(made("p", `${one.kind}, ${from}`, "soft small"), ...one.parts.map(numbers));
  if (one.why_not) {
    item.append(made("p", `Not tried from here: ${one.why_not}.`, "small"));
    return item;
  }
  const row = made("div", "", "row");
  const choice = one.is_plan ? null : modeChoice();
  const button = made("button", "Try it", "plain");
  button.setAttribute("aria-label", `Try ${one.name} of ${one.file}`);
  const host = document.createElement("div");
  host.setAttribute("aria-live", "polite");
  button.addEventListener("click", () =>
    doing(button, () =>
      trying(host, "/api/receivers/try", { file: one.file, is_plan: one.is_plan, number: one.number, mode: choice?.select.value ?? one.mode }),
    ),
  );
  row.append(...(choice ? [choice.label] : []), button);
  item.append(row, host);
  return item;
}

try {
  const { known, troubles } = await ask("GET", "/api/receivers");
  const none = made("li", "None yet: a plan brings its own.", "soft");
  part("known").replaceChildren(...(known.length ? known.map(card) : [none]));
  part("troubles").replaceChildren(...troubles.map((words) => made("li", words)));
} catch (error) {
  say(error.message);
}
