// The plan form, part by part: question, what is swept, conditions, map, receivers, trials, sound.
import { make, option, placeId, placeKey } from "/static/form_parts.js";
import { adder, Fields, takeOut } from "/static/plan_fields.js";

const FAMILY_WORDS = {
  added: "Added to the signal",
  path: "On its way to you",
  chain: "Inside your receiver",
};

export function drawForm(form, state) {
  const fields = new Fields(form, state);
  const values = state.values;
  const parts = [
    question(fields, values),
    swept(fields, state),
    conditions(fields, values),
    mapped(fields, state),
    receivers(fields, values),
    stop(fields, values),
    sound(fields, values),
  ];
  const rest = fields.problemsWithin([]);
  return make(
    "div",
    { id: "parts" },
    make("div", { id: "rest" }, fields.said(rest, "rest-bad")),
    parts,
  );
}

function part(id, title, help, ...inside) {
  return make(
    "section",
    { class: "part", "aria-labelledby": `${id}-head`, "data-key": id },
    make("h2", { id: `${id}-head` }, title),
    help ? make("p", { class: "soft small help" }, help) : null,
    ...inside,
  );
}

const helpOf = (fields, name) => fields.tables.Plan.fields.find((field) => field.name === name).help;

function question(fields, values) {
  const draw = (name) => fields.field("Plan", name, values[name], [name]);
  return part(
    "question",
    "The question",
    null,
    make("div", { class: "fields" }, ["title", "mode", "root_seed", "notes"].map(draw)),
  );
}

function sweepSelect(by, choices, nothing) {
  const chosen = choices.find((choice) => choice.is_chosen);
  return make(
    "select",
    { id: `sweep-${by}`, "data-do": "sweep", "data-by": by },
    nothing || !chosen ? option("", nothing ?? "choose one", !chosen) : null,
    choices.map((choice) => option(choice.key, choice.words, choice === chosen)),
  );
}

function swept(fields, state) {
  const inside = fields.fieldsOf(fields.tables.Axis, state.values.axis, ["axis"]);
  return part(
    "axis",
    "What is swept",
    helpOf(fields, "axis"),
    make("label", { for: "sweep-axis" }, "This is changed step by step"),
    sweepSelect("axis", state.sweeps),
    make("p", { class: "soft small help" }, "Only what every condition has can be swept."),
    inside,
    fields.said(fields.problemsWithin(["axis"]), "axis-bad"),
  );
}

function mapped(fields, state) {
  const isThere = state.values.map !== undefined;
  return part(
    "map",
    "A map",
    helpOf(fields, "map"),
    make("label", { for: "sweep-map" }, "The map runs over"),
    sweepSelect("map", state.maps, "nothing: there is no map"),
    isThere ? fields.fieldsOf(fields.tables.Axis, state.values.map, ["map"]) : null,
    fields.said(fields.problemsWithin(["map"]), "map-bad"),
  );
}

function conditions(fields, values) {
  const list = Array.isArray(values.conditions) ? values.conditions : [];
  return part(
    "conditions",
    "Conditions",
    helpOf(fields, "conditions"),
    list.map((condition, number) => conditionCard(fields, condition, number, list.length)),
    make(
      "p",
      {},
      make("button", { type: "button", class: "plain", "data-do": "add", "data-place": placeKey(["conditions"]) }, "Add a condition"),
    ),
    fields.said(fields.problemsWithin(["conditions"]), "conditions-bad"),
  );
}

// Buttons of a card in a list: order, a copy, and away with it.
function cardButtons(place, title, n, from) {
  const number = place.at(-1);
  const move = (by, words, sign) =>
    make(
      "button",
      {
        type: "button", class: "plain", "data-do": "move", "data-place": placeKey(place), "data-by": by,
        disabled: number + by < 0 || number + by >= n, "aria-label": `Move ${title} ${words}`,
      },
      sign,
    );
  return make(
    "span",
    { class: "card-buttons" },
    move(-1, "up", "↑"),
    move(1, "down", "↓"),
    make("button", { type: "button", class: "plain", "data-do": "double", "data-place": placeKey(place), "aria-label": `Double ${title}` }, "Double"),
    takeOut(place, title, from),
  );
}

function conditionCard(fields, condition, number, n) {
  const place = ["conditions", number];
  const name = `${condition.name ?? `condition ${number + 1}`}`;
  const impairments = Array.isArray(condition.impairments) ? condition.impairments : [];
  const at = [...place, "impairments"];
  const sending = fields.fieldsOf(fields.tables.Sending, condition.sending, [...place, "sending"]);
  const isSendingWrong = sending.querySelector(".wrong") !== null;
  return make(
    "article",
    { class: "card", id: placeId(place), "aria-label": `Condition ${number + 1}: ${name}` },
    make(
      "div",
      { class: "row spread" },
      make("h3", {}, number === 0 ? `${number + 1}. ${name} (the measure for the others)` : `${number + 1}. ${name}`),
      cardButtons(place, name, n, "the conditions"),
    ),
    fields.field("Condition", "name", condition.name, [...place, "name"]),
    impairments.map((impairment, i) => impairmentCard(fields, impairment, [...at, i], impairments.length, name)),
    adder(at, `Add to ${name}`, presetGroups(fields)),
    make("details", { class: "more", open: isSendingWrong },
      make("summary", {}, "How the wanted signal is sent"), sending),
    fields.said(fields.problemsWithin(place), `${placeId(place)}-bad`),
  );
}

function impairmentCard(fields, impairment, place, n, condition) {
  const shape = fields.tables.Condition.fields.find((field) => field.name === "impairments").shapes[0];
  const table = fields.tableOf(shape, impairment);
  const title = table ? table.title : `${impairment?.kind ?? "something without a kind"}`;
  return make(
    "div",
    { class: "inner impairment", id: placeId(place), role: "group", "aria-label": title, "data-key": title },
    make("div", { class: "row spread" }, make("h4", {}, title), cardButtons(place, title, n, condition)),
    table ? make("p", { class: "soft small help" }, table.says) : null,
    table ? fields.fieldsOf(table, impairment, place) : null,
    fields.said(fields.problemsWithin(place), `${placeId(place)}-bad`),
  );
}

function presetGroups(fields) {
  const { tables, presets } = fields.form;
  const tableOf = (kind) => Object.values(tables).find((table) => table.family && table.kind === kind);
  return Object.entries(FAMILY_WORDS).map(([family, words]) =>
    make(
      "optgroup",
      { label: words },
      presets
        .filter((preset) => preset.list === "impairments" && tableOf(preset.kind).family === family)
        .map((preset) => presetOption(preset, tableOf(preset.kind))),
    ),
  );
}

function presetOption(preset, table) {
  const made = option(JSON.stringify({ preset: preset.name }), preset.name);
  made.dataset.means = table ? `${table.says} Here: ${preset.means}` : preset.means;
  return made;
}

function receivers(fields, values) {
  const list = Array.isArray(values.receivers) ? values.receivers : [];
  const presets = fields.form.presets.filter((preset) => preset.list === "receivers");
  return part(
    "receivers",
    "Who listens",
    helpOf(fields, "receivers"),
    list.length ? null : make("p", {}, "The built-in receiver, as usual."),
    list.map((receiver, number) => receiverCard(fields, receiver, number, list.length)),
    adder(["receivers"], "Add a receiver", [
      make("optgroup", { label: "Built in" }, presets.map((preset) => presetOption(preset))),
    ]),
    make("p", { class: "soft small help" }, "Programs of your own are set from the command line; the page Receivers says how."),
    fields.said(fields.problemsWithin(["receivers"]), "receivers-bad"),
  );
}

function receiverCard(fields, receiver, number, n) {
  const place = ["receivers", number];
  const shape = fields.tables.Plan.fields.find((field) => field.name === "receivers").shapes[0];
  const table = fields.tableOf(shape, receiver);
  const name = `${receiver.name ?? receiver.kind ?? number + 1}`;
  const isOpen = table && !table.locked;
  return make(
    "article",
    { class: "card", id: placeId(place), "aria-label": `Receiver ${number + 1}: ${name}` },
    make(
      "div",
      { class: "row spread" },
      make("h3", {}, `${number + 1}. ${name}`),
      isOpen || !table ? cardButtons(place, name, n, "the receivers") : null,
    ),
    isOpen ? fields.fieldsOf(table, receiver, place) : lockedTable(table, receiver),
    fields.said(fields.problemsWithin(place), `${placeId(place)}-bad`),
  );
}

function lockedTable(table, values) {
  const lines = Object.entries(values).map(([name, value]) => `${name} = ${JSON.stringify(value)}`);
  return make(
    "div",
    { class: "locked" },
    make("p", {}, table ? `${table.title}. ${table.locked}` : "of an unknown kind"),
    make("pre", { tabindex: 0, role: "region", "aria-label": `Settings of ${values.name ?? "it"}` }, lines.join("\n")),
  );
}

function stop(fields, values) {
  const presets = fields.form.presets.filter((preset) => preset.list === "stops");
  return part(
    "stop",
    "How many trials",
    helpOf(fields, "stop"),
    make(
      "ul",
      { class: "presets" },
      presets.map((preset, number) =>
        make(
          "li",
          {},
          make(
            "button",
            { type: "button", class: "plain", "data-do": "stop", value: preset.name, "aria-describedby": `stop-preset-${number}` },
            preset.name,
          ),
          make("span", { class: "soft small", id: `stop-preset-${number}` }, preset.means),
        ),
      ),
    ),
    fields.fieldsOf(fields.tables.StopRule, values.stop, ["stop"]),
    fields.said(fields.problemsWithin(["stop"]), "stop-bad"),
  );
}

function sound(fields, values) {
  const inside = fields.fieldsOf(fields.tables.Audio, values.audio, ["audio"]);
  const bad = fields.said(fields.problemsWithin(["audio"]), "audio-bad");
  const isOpen = bad !== null || inside.querySelector(".wrong") !== null;
  const live = values.live === undefined ? null : lockedTable(fields.tables.LiveSetUp, values.live);
  return part(
    "sound",
    "Sound",
    helpOf(fields, "audio"),
    make("details", { class: "more", open: isOpen }, make("summary", {}, "How the sound files are made"), inside, bad),
    live,
  );
}

