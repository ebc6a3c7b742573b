import { ask, doing, say } from "/static/bench.js";
import { offerDelete } from "/static/noise-delete.js";
import { Panel } from "/static/noise-looks.js";
import { quiet } from "/static/quiet.js";

const AT_ONCE_BYTES = 200e6; // larger files are looked through only when asked
const title = document.getElementById("title");
const name = title.dataset.name;
const stem = name.replace(/\.[^.]*$/, "");
const address = `/api/recordings/${encodeURIComponent(name)}`;
const byId = (id) => document.getElementById(id);

// What the fields of a form hold; empty ones are left out.
function fields(form) {
  const found = {};
  for (const field of form.elements) {
    if (!field.name) continue;
    if (field.type === "checkbox") found[field.name] = field.checked;
    else if (field.value !== "") found[field.name] = field.type === "number" ? Number(field.value) : field.value;
  }
  return found;
}

// The channel as commands that make plans take it.
function channelNumber() {
  const { channel, iq } = fields(byId("file"));
  if (iq) throw new Error("Plans cannot take I and Q; save one side as a recording of its own.");
  if (!channel) return {};
  const number = { left: 1, right: 2 }[channel] ?? Number(channel);
  if (!Number.isInteger(number)) throw new Error("Plans need one channel: left, right or a number.");
  return { channel: number };
}

function picked(...names) {
  const given = fields(byId("file"));
  return Object.fromEntries(names.filter((one) => given[one]).map((one) => [one, given[one]]));
}

const REQUESTS = {
  health: () => ({ recording: name, ...picked("channel", "iq", "join") }),
  parts: (form) => ({ recording: name, ...fields(form), ...picked("channel", "iq") }),
  slots: (form) => ({ recording: name, ...fields(form), ...picked("channel") }),
  twin: (form) => ({ recording: name, ...fields(form), ...channelNumber() }),
  change: (form) => {
    const { order, other, ...more } = fields(form);
    if (!other) throw new Error("There is no other recording yet: bring one on the page before.");
    const [recording, after] = order === "before" ? [name, other] : [other, name];
    return { recording, after, ...more, ...picked("channel") };
  },
};

function found(look) {
  if (look.asked.kind === "twin") byId("keep").hidden = look.answer.is_refusal;
}

const panels = Object.fromEntries(
  [...document.querySelectorAll("[data-kind]")].map((section) => {
    const kind = section.dataset.kind;
    return [kind, new Panel(section, (form) => ({ kind, ...REQUESTS[kind](form) }), found)];
  }),
);
for (const panel of Object.values(panels)) {
  if (panel.section.dataset.state === "working") panel.resume();
}
if (!panels.health.section.dataset.state && Number(title.dataset.bytes) < AT_ONCE_BYTES) {
  panels.health.begin();
}
byId("keep").hidden = !panels.twin.isDone || !panels.twin.out.querySelector(".answer");

const player = byId("player");
quiet(player, byId("volume"));
byId("piece").addEventListener("submit", (event) => {
  event.preventDefault();
  player.src = `${address}/piece?${new URLSearchParams(fields(event.target))}`;
  player.play().catch(() => say("The piece cannot be played. Does the recording last so long?"));
});

const cost = byId("cost");
cost.plan.value = `${stem}-cost`.slice(0, 80);
byId("keep").elements.name.value = `${stem}-twin`.slice(0, 80);
cost.addEventListener("submit", (event) => {
  event.preventDefault();
  doing(event.submitter, async () => {
    const { effort, ...asked } = fields(cost);
    if (effort) asked.efforts = [effort];
    say("Looking at the recording, then writing the plan …");
    const made = await ask("POST", `${address}/cost`, { ...asked, ...channelNumber() });
    const plan = encodeURIComponent(made.name);
    say("Starting …");
    await ask("POST", `/api/campaigns/${plan}/run`);
    location.assign(`/campaigns/${plan}`);
  });
});
byId("begin").addEventListener("click", (event) => {
  doing(event.target, async () => {
    const asked = { name: cost.plan.value, question: "recording", recording: name };
    const made = await ask("POST", "/api/plans", asked);
    location.assign(`/plans/${encodeURIComponent(made.name)}`);
  });
});
byId("keep").addEventListener("submit", (event) => {
  event.preventDefault();
  doing(event.submitter, async () => {
    const made = await ask("POST", `/api/looks/${panels.twin.key}/plan`, fields(event.target));
    location.assign(`/plans/${encodeURIComponent(made.name)}`);
  });
});

// What campaigns with this recording answer so far; worked out by the server, which takes seconds.
async function answers() {
  const host = byId("answers");
  for (const one of await ask("GET", `${address}/answers`)) {
    const box = document.createElement("div");
    const link = document.createElement("a");
    link.href = `/campaigns/${encodeURIComponent(one.campaign)}`;
    link.textContent = `Campaign ${one.campaign}`;
    box.append(
      ...one.sentences.map((sentence, place) => {
        const line = document.createElement("p");
        line.textContent = sentence;
        line.className = place === 0 ? "answer" : "small";
        return line;
      }),
      link,
    );
    host.append(box);
  }
}
answers().catch((error) => say(error.message));

offerDelete(document.querySelector("[data-delete]"), () => location.assign("/noise"));
