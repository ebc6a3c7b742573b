import { ask, doing } from "/static/bench.js";

const form = document.getElementById("new");
const sound = document.getElementById("sound");
form.question.addEventListener("change", () => {
  sound.hidden = form.question.value !== "recording";
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  doing(form.querySelector("button"), async () => {
    const { name, question, recording } = form;
    const asked = { name: name.value, question: question.value };
    if (question.value === "recording") asked.recording = recording.value;
    const made = await ask("POST", "/api/plans", asked);
    location.assign(`/plans/${encodeURIComponent(made.name)}`);
  });
});
