import { ask, doing, say } from "/static/bench.js";

const text = document.getElementById("text");
const name = encodeURIComponent(text.dataset.name);
const save = document.getElementById("save");
const run = document.getElementById("run");
const cost = document.getElementById("cost");

save.addEventListener("click", () =>
  doing(save, async () => {
    cost.hidden = true;
    await ask("PUT", `/api/plans/${name}`, { text: text.value });
    say("Saved. Trying a few trials …");
    const found = await ask("GET", `/api/plans/${name}/cost`);
    cost.textContent = found.words;
    cost.hidden = false;
    say("Saved and checked.");
  }),
);
run.addEventListener("click", () =>
  doing(run, async () => {
    await ask("PUT", `/api/plans/${name}`, { text: text.value });
    say("Starting …");
    await ask("POST", `/api/campaigns/${name}/run`);
    location.assign(`/campaigns/${name}`);
  }),
);
