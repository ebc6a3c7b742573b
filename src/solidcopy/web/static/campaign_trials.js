// The trials behind a point of a curve or a cell of a map, a page at a time.
import { ask, say } from "/static/bench.js";
import { element, table } from "/static/campaign_tables.js";
import { fill, keep, kept } from "/static/campaign_view.js";

const part = (id) => document.getElementById(id);
const filter = part("trials-filter");
const NOWHERE = { of: null, condition: null, receiver: null, at: null, show: null, first: null };
let asked = null;
let found = null;

function query(changes = {}) {
  const { condition, axisValue, show, receiver, other, first } = { ...asked, ...changes };
  const made = new URLSearchParams({ condition, axis_value: axisValue, show, receiver, first });
  if (show === "one-alone" && other) made.set("other", other);
  return made;
}

function trialLink(index) {
  const where = new URLSearchParams({ condition: asked.condition, axis_value: asked.axisValue, index });
  return `/campaigns/${encodeURIComponent(asked.campaign)}/trial?${where}`;
}

function line(trial) {
  const link = element("a", `Trial ${trial.index}`, { href: trialLink(trial.index) });
  const verdicts = trial.verdicts.map((verdict, k) => {
    const words = trial.false_decodes[k] ? `${verdict}, with a false decode` : verdict;
    return element("td", words, { className: `words verdict-${verdict.replace(" ", "-")}` });
  });
  const [row, head] = [element("tr"), element("th", undefined, { scope: "row", className: "words" })];
  head.append(link);
  row.append(head, ...verdicts);
  return row;
}

function showList() {
  const made = table(found.words, ["trial", ...found.receivers], [], 1 + found.receivers.length);
  made.tBodies[0].append(...found.lines.map(line));
  part("trials-list").replaceChildren(found.lines.length ? made : element("p", "No such trials."));
  const last = found.first + found.lines.length;
  part("trials-far").textContent = found.lines.length ? `${found.first + 1} to ${last} of ${found.n_listed}` : "";
  part("earlier").disabled = found.first === 0;
  part("later").disabled = last >= found.n_listed;
  const whose = asked.campaign === document.getElementById("title").dataset.name ? "" : `${asked.campaign}: `;
  part("trials-words").textContent = `${whose}${found.words}: ${found.n_listed} of ${found.n_trials} trials listed.`;
}

function showFilter() {
  const receivers = found.receivers.map((name) => [name, name]);
  asked.receiver ??= found.receivers[0];
  fill(filter.receiver, receivers, asked.receiver);
  const others = receivers.filter(([name]) => name !== asked.receiver);
  if (!others.some(([name]) => name === asked.other)) asked.other = others[0]?.[0];
  fill(filter.other, others, asked.other ?? "");
  part("other-label").hidden = asked.show !== "one-alone";
  const oneAlone = [...filter.show.options].find((option) => option.value === "one-alone");
  oneAlone.disabled = found.receivers.length < 2;
  filter.show.value = asked.show;
}

async function fetchTrials() {
  const own = asked;
  const answer = await ask("GET", `/api/campaigns/${encodeURIComponent(own.campaign)}/trials?${query()}`);
  if (own !== asked) return;
  found = answer;
  part("trials-hint").hidden = true;
  part("trials-panel").hidden = false;
  showFilter();
  showList();
}

async function change(changes) {
  asked = { ...asked, ...changes };
  keep({ show: asked.show, first: asked.first || null });
  await fetchTrials().catch((error) => say(error.message));
}

// Opens the panel for a point { campaign, condition, receiver, axisValue } and goes there.
export async function openPoint(point) {
  asked = { show: "all", first: 0, ...point };
  const { campaign, condition, receiver, axisValue } = point;
  keep({ of: campaign, condition, receiver, at: axisValue, show: null, first: null });
  try {
    await fetchTrials();
    part("trials").focus({ preventScroll: true });
    part("trials").scrollIntoView({ block: "nearest" });
  } catch (error) {
    say(error.message);
  }
}

// While a campaign runs its points grow; nobody's place in the list is lost for that.
export function refreshPoint() {
  if (!asked && kept("condition") !== null) {
    asked = {
      campaign: kept("of"),
      condition: kept("condition"),
      receiver: kept("receiver"),
      axisValue: Number(kept("at")),
      show: kept("show") ?? "all",
      first: Number(kept("first") ?? 0),
    };
  }
  if (!asked || part("trials-list").contains(document.activeElement)) return;
  fetchTrials().catch((error) => {
    asked = null;
    keep(NOWHERE);
    say(error.message);
  });
}

filter.addEventListener("submit", (event) => event.preventDefault());
filter.show.addEventListener("change", () => change({ show: filter.show.value, first: 0 }));
filter.receiver.addEventListener("change", () => change({ receiver: filter.receiver.value, first: 0 }));
filter.other.addEventListener("change", () => change({ other: filter.other.value, first: 0 }));
part("earlier").addEventListener("click", () => change({ first: Math.max(0, asked.first - found.per_page) }));
part("later").addEventListener("click", () => change({ first: asked.first + found.per_page }));
