// Two campaigns side by side.
import { ask, doing } from "/static/bench.js";
import { CHANGED, contenders } from "/static/duel_contenders.js";

const form = document.getElementById("compare");
const answer = document.getElementById("compared");
let begun = [];

function curves(side) {
  const campaign = begun.find((one) => one.name === form[side].value);
  const names = (campaign?.conditions ?? []).flatMap((condition) => campaign.receivers.map((receiver) => `${condition}/${receiver}`));
  form[`${side}_curve`].replaceChildren(...names.map((name) => new Option(name)));
}

function tell(paragraphs, isRefused) {
  answer.replaceChildren(
    ...paragraphs.map((words) => Object.assign(document.createElement("p"), { textContent: words, className: isRefused ? "refused" : "" })),
  );
}

async function fill() {
  begun = (await contenders()).filter((one) => one.is_begun && !one.trouble);
  for (const side of ["a", "b"]) {
    const before = form[side].value;
    form[side].replaceChildren(...begun.map((one) => new Option(one.name)));
    if (begun.some((one) => one.name === before)) form[side].value = before;
    else curves(side);
  }
  form.querySelector("button").disabled = !begun.length;
}

for (const side of ["a", "b"]) form[side].addEventListener("change", () => curves(side));
document.addEventListener(CHANGED, fill);
await fill();
form.addEventListener("submit", (event) => {
  event.preventDefault();
  doing(form.querySelector("button"), async () => {
    const query = new URLSearchParams(new FormData(form));
    try {
      const found = await ask("GET", `/api/comparison?${query}`);
      tell(found.text.split("\n").filter((line) => line.trim()), false);
    } catch (error) {
      tell([error.message], true);
    }
  });
});
