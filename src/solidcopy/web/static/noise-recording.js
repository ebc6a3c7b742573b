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
  cost: (form) => {
    const { effort, ...more } = fields(form);
    return { recording: name, ...more, ...(effort ? { efforts: [effort] } : {}), ...channelNumber() };
  },
  twin: (form) => ({ recording: name, ...fields(form), ...channelNumber() }),
  change: (form) => {
    const { order, other, ...more } = fields(form);
    if (!other) throw new Error("There is no other recording yet: bring one on the page before.");
    const [recording, after] = order === "before" ? [name, other] : [other, name];
    return { recording, after, ...more, ...picked("channel") };
  },
};

function requestOf(section, form) {
  const { kind, campaign } = section.dataset;
  return { kind, ...(campaign ? { recording: name, campaign } : REQUESTS[kind](form)) };
}

// A plan that was worked out can be kept: its form stands behind its panel.
function armKeep(form, panel) {
  const show = () => {
    form.hidden = !panel.isDone || !panel.out.querySelector(".answer");
  };
  form.elements.name.value = `${stem.slice(0, 70)}-${panel.kind}`;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    doing(event.submitter, async () => {
      const asked = { name: form.elements.name.value };
      const made = await ask("POST", `/api/looks/${panel.key}/plan`, asked);
      const plan = encodeURIComponent(made.name);
      if (event.submitter.value === "keep") return location.assign(`/plans/${plan}`);
      say("Starting …");
      await ask("POST", `/api/campaigns/${plan}/run`);
      return location.assign(`/campaigns/${plan}`);
    });
  });
  show();
  return show;
}

for (const section of document.querySelectorAll("[data-kind]")) {
  const { kind, state } = section.dataset;
  const panel = new Panel(section, (form) => requestOf(section, form));
  const keep = document.querySelector(`[data-keeps="${kind}"]`);
  if (keep) panel.whenDone = armKeep(keep, panel);
  const isSmall = kind === "health" && Number(title.dataset.bytes) < AT_ONCE_BYTES;
  if (state === "working") panel.resume();
  else if (!state && (isSmall || "atOnce" in section.dataset)) panel.begin();
}

const player = byId("player");
quiet(player, byId("volume"));
byId("piece").addEventListener("submit", (event) => {
  event.preventDefault();
  player.src = `${address}/piece?${new URLSearchParams(fields(event.target))}`;
  player.play().catch(() => say("The piece cannot be played. Does the recording last so long?"));
});

offerDelete(document.querySelector("[data-delete]"), () => location.assign("/noise"));
