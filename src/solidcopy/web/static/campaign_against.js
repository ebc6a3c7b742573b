// How far a curve lies from one of the campaign that is laid over it, in the words of `compare`.
import { ask, doing } from "/static/bench.js";
import { element } from "/static/campaign_tables.js";
import { fill } from "/static/campaign_view.js";

const form = document.getElementById("against");
const words = document.getElementById("against-words");
let compared = "";

const choices = (curves) => curves.map((curve) => [`${curve.condition}/${curve.receiver}`, curve.name]);
const chosen = (select, offered) => (offered.some(([value]) => value === select.value) ? select.value : offered[0][0]);

function tell(sentences) {
  words.replaceChildren(...sentences.map((sentence) => element("li", sentence)));
}

async function compare(name, other) {
  const asked = new URLSearchParams({ curve: form.curve.value, other, other_curve: form.other.value });
  tell(["Comparing …"]);
  try {
    tell((await ask("GET", `/api/campaigns/${encodeURIComponent(name)}/against?${asked}`)).sentences);
  } catch (error) {
    tell([error.message]);
  }
}

export function showAgainst(name, results, beside) {
  const others = beside?.results.curves ?? [];
  form.hidden = !others.length || !results.curves.length;
  if (form.hidden || compared !== beside.name) tell([]);
  compared = beside?.name ?? "";
  if (form.hidden) return;
  for (const [select, curves] of [[form.curve, results.curves], [form.other, others]]) {
    fill(select, choices(curves), chosen(select, choices(curves)));
  }
  form.onsubmit = (event) => {
    event.preventDefault();
    doing(form.querySelector("button"), () => compare(name, beside.name));
  };
}
