// The first page: a new plan from a question, and a card of every campaign, fetched one by one.
import { ask, doing } from "/static/bench.js";

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 176;
const HEIGHT = 88;
const EDGE = 4;
const DASHES = ["", "7 3", "2 3", "9 3 2 3", "4 2", "1 2", "12 4", "6 2 1 2"];
const AGAIN_MS = 1500;
const AT_ONCE = 2;

const form = document.getElementById("new");
const plans = document.querySelectorAll("#plans a:first-child");
const taken = new Set([...plans].map((link) => link.textContent));

function freeName(question) {
  let name = question;
  for (let number = 2; taken.has(name); number += 1) name = `${question} ${number}`;
  return name;
}

function chosen() {
  const question = form.question.value;
  const needsSound = question === "recording";
  const isLacking = needsSound && form.recording.options.length === 0;
  document.getElementById("sound").hidden = !needsSound || isLacking;
  document.getElementById("no-sound").hidden = !isLacking;
  form.querySelector("button").disabled = isLacking;
  if (!form.name.dataset.isOwn) form.name.value = freeName(question);
}

form.name.addEventListener("input", () => {
  form.name.dataset.isOwn = form.name.value ? "yes" : "";
});
form.addEventListener("change", chosen);
form.addEventListener("submit", (event) => {
  event.preventDefault();
  doing(form.querySelector("button"), async () => {
    const asked = { name: form.name.value, question: form.question.value };
    if (asked.question === "recording") asked.recording = form.recording.value;
    const made = await ask("POST", "/api/plans", asked);
    location.assign(`/plans/${encodeURIComponent(made.name)}`);
  });
});
addEventListener("pageshow", chosen); // the browser may have put back what was chosen before

function put(kind, attributes, ...children) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

// Share decoded along the axis, one line for each curve; the page of the campaign has the numbers.
function picture(card) {
  const values = card.curves.flatMap((curve) => curve.axis_values);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const across = (value) =>
    EDGE + ((WIDTH - 2 * EDGE) * (high > low ? value - low : 0.5)) / (high > low ? high - low : 1);
  const up = (share) => HEIGHT - EDGE - (HEIGHT - 2 * EDGE) * share;
  const lines = [0, 0.5, 1].map((share) =>
    put("line", { x1: EDGE, x2: WIDTH - EDGE, y1: up(share), y2: up(share) }),
  );
  const curves = card.curves.map((curve, place) => {
    const points = curve.axis_values.map(
      (value, i) => `${across(value).toFixed(1)},${up(curve.n_decoded[i] / curve.n_scored[i]).toFixed(1)}`,
    );
    const look = { points: points.join(" "), stroke: `var(--look-${place % 8})` };
    return put("polyline", { ...look, "stroke-dasharray": DASHES[place % DASHES.length] });
  });
  const title = document.createElementNS(SVG, "title");
  title.textContent = `Share decoded: ${card.curves.map((curve) => curve.name).join("; ")}`;
  return put("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img" }, title, ...lines, ...curves);
}

function words(kind, className, text) {
  const made = document.createElement(kind);
  made.className = className;
  made.textContent = text;
  return made;
}

function tell(item, card) {
  item.querySelector("a").textContent = card.title;
  const doing = card.is_running ? "▶ running" : card.is_finished ? "■ finished" : "❚❚ stopped";
  const far = `${doing}: ${card.n_done} of ${card.n_planned} trials. Campaign ${card.name}.`;
  const parts = [item.querySelector("h3"), words("p", "state soft small", far)];
  parts.push(words("p", "answer", card.sentence));
  if (card.curves.length) parts.push(picture(card));
  item.replaceChildren(...parts);
  item.classList.add("told");
}

async function fetchCards(items) {
  for (let item = items.shift(); item; item = items.shift()) {
    try {
      const card = await ask("GET", `/api/cards/${encodeURIComponent(item.dataset.name)}`);
      tell(item, card);
      if (!card.is_settled) setTimeout(() => fetchCards([item]), AGAIN_MS);
    } catch (error) {
      item.querySelector("p").textContent = error.message;
    }
  }
}

const waiting = [...document.querySelectorAll("#campaigns li")];
for (let i = 0; i < AT_ONCE; i += 1) fetchCards(waiting);
