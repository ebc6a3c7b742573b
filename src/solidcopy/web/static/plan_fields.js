// One field of the plan form, in whatever shape its value has. The server says what fields there
// are and what they mean; here they are only drawn.
import { make, option, placeId, placeKey } from "/static/form_parts.js";

const SWEPT = ["axis", "map"];

// Draws fields; holds what is wrong where, and marks what it has shown.
export class Fields {
  constructor(form, state) {
    this.tables = form.tables;
    this.form = form;
    this.state = state;
    this.waiting = [...state.problems];
  }

  problemsAt(place) {
    const key = placeKey(place);
    const here = this.waiting.filter((problem) => placeKey(problem.place) === key);
    this.waiting = this.waiting.filter((problem) => placeKey(problem.place) !== key);
    return here;
  }

  // What is wrong somewhere below a place and was not shown there.
  problemsWithin(place) {
    const isWithin = (problem) => place.every((step, i) => problem.place[i] === step);
    const found = this.waiting.filter(isWithin);
    this.waiting = this.waiting.filter((problem) => !isWithin(problem));
    return found;
  }

  said(problems, id) {
    if (!problems.length) return null;
    const lines = problems.map((problem) => make("span", {}, problem.sentence));
    return make("p", { class: "bad wrong", id }, lines);
  }

  // The table that a value is; of several told apart by kind, that of its kind.
  tableOf(shape, value) {
    const tables = shape.tables.map((name) => this.tables[name]);
    if (tables.length === 1) return tables[0];
    return tables.find((table) => table.kind === value?.kind);
  }

  field(table, name, value, place) {
    const field = this.tables[table].fields.find((one) => one.name === name);
    const shape = shapeOf(field, value);
    const problems = this.problemsAt(place);
    const parts = {
      id: placeId(place),
      place: placeKey(place),
      described: [`${placeId(place)}-help`, problems.length && `${placeId(place)}-bad`]
        .filter(Boolean)
        .join(" "),
      invalid: problems.length > 0,
    };
    return make(
      "div",
      { class: `field as-${shape.form}`, "data-key": `${field.name}:${shape.form}` },
      this.control(field, shape, value, place, parts),
      make("p", { class: "soft small help", id: `${placeId(place)}-help` }, helpWords(field, shape)),
      this.said(problems, `${placeId(place)}-bad`),
    );
  }

  control(field, shape, value, place, parts) {
    if (SWEPT.includes(shape.form)) return this.sweptControl(field, shape, parts);
    const ways = field.shapes.filter((one) => !SWEPT.includes(one.form));
    if (ways.length > 1) return this.severalShapes(field, ways, shape, value, place, parts);
    if (shape.form === "table") return this.optionalTable(field, shape, value, place, parts);
    if (shape.form === "kinds") return this.kinds(field, shape, value, place, parts);
    if (shape.form === "list") return this.list(field, shape, value, place);
    return labelled(field, plainControl(field, shape, value, parts), shape);
  }

  sweptControl(field, shape, parts) {
    const by = shape.form === "axis" ? "the axis" : "the map";
    const first = field.shapes.find((one) => !SWEPT.includes(one.form));
    return make(
      "div",
      { class: "swept", id: parts.id, role: "group", "aria-label": labelWords(field) },
      make("span", { class: "label" }, labelWords(field)),
      make("span", { class: "chip" }, `↔ swept by ${by}`),
      make(
        "button",
        { type: "button", class: "plain", "data-do": "turn", "data-place": parts.place, value: first.form },
        "Make it fixed",
      ),
    );
  }

  severalShapes(field, ways, shape, value, place, parts) {
    const how = make(
      "select",
      { "data-do": "turn", "data-place": parts.place, id: `${parts.id}-how`, "aria-label": `${field.label}: how it is given` },
      option("nothing", field.default_words ? `as usual (${usualWords(field)})` : "left out", value === undefined),
      ways.map((one) => option(one.form, one.words, value !== undefined && one.form === shape.form)),
    );
    let inner = null;
    if (value !== undefined && shape.form === "table") {
      const table = this.tableOf(shape, value);
      inner = this.fieldsOf(table, value, place);
    } else if (value !== undefined && shape.form !== "word") {
      inner = plainControl(field, shape, value, parts);
      inner.setAttribute("aria-label", labelWords(field));
    }
    return make(
      "div",
      { class: "several", role: "group", "aria-label": labelWords(field) },
      make("span", { class: "label" }, labelWords(field)),
      make("div", { class: "row" }, how, inner),
    );
  }

  optionalTable(field, shape, value, place, parts) {
    const table = this.tableOf(shape, value);
    const tick = make("input", {
      type: "checkbox",
      id: parts.id,
      checked: value !== undefined,
      "data-do": "tick",
      "data-place": parts.place,
      "aria-describedby": parts.described,
    });
    return make(
      "div",
      {},
      make("label", { class: "tick" }, tick, field.label),
      value === undefined
        ? null
        : make("div", { class: "inner", role: "group", "aria-label": field.label }, this.fieldsOf(table, value, place)),
    );
  }

  kinds(field, shape, value, place, parts) {
    const table = this.tableOf(shape, value ?? { kind: this.tables[shape.tables[0]].kind });
    const select = make(
      "select",
      { "data-do": "turn", "data-place": parts.place, id: parts.id, "aria-describedby": parts.described },
      shape.tables.map((name) => {
        const one = this.tables[name];
        return option(one.kind, one.title, one === table);
      }),
    );
    const inner = table && value !== undefined ? this.fieldsOf(table, value, place) : null;
    return make("div", {}, labelled(field, select, shape), make("div", { class: "inner" }, inner));
  }

  list(field, shape, value, place) {
    const items = Array.isArray(value) ? value : [];
    const kinds = shape.tables.map((name) => this.tables[name]);
    return make(
      "div",
      { role: "group", "aria-label": field.label },
      make("span", { class: "label" }, field.label),
      items.map((item, number) => {
        const table = this.tableOf(shape, item);
        const at = [...place, number];
        const title = table ? table.title : "of an unknown kind";
        return make(
          "div",
          { class: "inner", role: "group", "aria-label": title, "data-key": title },
          make("p", { class: "row spread" }, make("strong", {}, title), takeOut(at, title, field.label)),
          table ? this.fieldsOf(table, item, at) : null,
          this.said(this.problemsWithin(at), `${placeId(at)}-bad`),
        );
      }),
      adder(place, `One more: ${field.label}`, [
        make(
          "optgroup",
          { label: field.label },
          kinds.map((table) => option(JSON.stringify({ kind: table.kind ?? table.name }), table.title)),
        ),
      ]),
    );
  }

  // All fields of a table: first what is always shown, then the rest folded away.
  fieldsOf(table, value, place) {
    const inWays = new Set(table.ways.flatMap((group) => group.ways.flatMap((way) => way.fields)));
    const idle = idleFields(table, value ?? {});
    const rest = table.fields.filter((field) => !inWays.has(field.name) && !idle.has(field.name));
    const isFew = rest.length <= FEW;
    const shown = rest.filter((field) => isFew || isMain(field));
    const folded = rest.filter((field) => !shown.includes(field));
    const draw = (field) => this.field(table.name, field.name, value?.[field.name], [...place, field.name]);
    return make(
      "div",
      { class: "fields" },
      table.ways.map((group) => this.ways(table, group, value ?? {}, place)),
      shown.map(draw),
      folded.length ? this.folded(folded, place, draw) : null,
    );
  }

  folded(fields, place, draw) {
    const isWrong = this.waiting.some((problem) =>
      fields.some((field) => placeKey(problem.place.slice(0, place.length + 1)) === placeKey([...place, field.name])),
    );
    return make(
      "details",
      { class: "more", open: isWrong },
      make("summary", {}, `More settings (${fields.length})`),
      make("div", { class: "fields" }, fields.map(draw)),
    );
  }

  ways(table, group, value, place) {
    const given = group.ways.filter((way) => way.fields.some(isGiven(value)));
    const [taken] = given;
    const id = `${placeId(place)}-way-${group.ways[0].fields[0]}`;
    const select = make(
      "select",
      { id, "data-do": "way", "data-place": placeKey(place) },
      taken ? null : option("", "choose one", true),
      group.ways.map((way) => option(way.fields[0], way.words, way === taken)),
    );
    const fields = [...new Set(given.flatMap((way) => way.fields))];
    const hasOne = fields.filter((name) => table.fields.some((field) => field.name === name));
    return make(
      "div",
      { class: "ways", "data-key": fields.join(" ") },
      make("label", { for: id }, group.label),
      select,
      make(
        "div",
        { class: "fields" },
        hasOne
          .filter((name) => !(name === "as_recorded" || name === "until"))
          .map((name) => this.field(table.name, name, value[name], [...place, name])),
      ),
    );
  }
}

const isGiven = (value) => (name) => value[name] !== undefined && value[name] !== false;

// What matters only beside a way that is not taken, and is not given either.
function idleFields(table, value) {
  const ways = table.ways.flatMap((group) => group.ways);
  const taken = ways.filter((way) => way.fields.some(isGiven(value)));
  const needed = new Set(taken.flatMap((way) => way.beside));
  const beside = ways.flatMap((way) => way.beside);
  return new Set(beside.filter((name) => !needed.has(name) && !isGiven(value)(name)));
}

const FEW = 5;
const ALWAYS = new Set([
  "on", "at_most", "nothing_sent", "name", "effort", "sound", "programme", "text", "message",
  "mains_hz", "n_stations", "n_tones", "keying", "gate", "title",
]);
const isMain = (field) => field.is_required || ALWAYS.has(field.name);

function shapeOf(field, value) {
  const find = (form) => field.shapes.find((shape) => shape.form === form);
  if (SWEPT.includes(value) && find(value)) return find(value);
  if (value === undefined) return field.shapes[0];
  if (Array.isArray(value)) return find("list") ?? find("numbers") ?? field.shapes[0];
  if (typeof value === "object") return find("table") ?? find("kinds") ?? field.shapes[0];
  const word = find("word");
  if (word && word.choices.some((choice) => choice.value === value)) return word;
  return ["switch", "choice", "number", "text", "numbers"].map(find).find(Boolean) ?? field.shapes[0];
}

const labelWords = (field) => (field.unit ? `${field.label} (${field.unit})` : field.label);

function usualWords(field) {
  try {
    const value = JSON.parse(field.default_words);
    const choices = field.shapes.flatMap((shape) => shape.choices);
    const chosen = choices.find((choice) => choice.value === value);
    if (chosen) return chosen.words;
    if (value === true) return "yes";
    if (value === false) return "no";
    if (typeof value === "object") return `${value.low} to ${value.high}`;
    return `${value}` === "" ? "empty" : `${value}`;
  } catch {
    return field.default_words;
  }
}

function helpWords(field, shape) {
  const range = shape.allowed ? ` Allowed: ${shape.allowed}.` : "";
  const isText = ["text", "number", "numbers"].includes(shape.form);
  const usual = isText && field.default_words && field.default_words !== '""';
  return `${field.help}${range}${usual ? ` Left out: ${usualWords(field)}.` : ""}`;
}

function labelled(field, control, shape) {
  if (shape.form === "switch") return make("label", { class: "tick" }, control, field.label);
  return make("label", {}, labelWords(field), control);
}

function plainControl(field, shape, value, parts) {
  const common = {
    id: parts.id,
    "data-do": "set",
    "data-place": parts.place,
    "aria-describedby": parts.described,
    "aria-invalid": parts.invalid && "true",
  };
  if (shape.form === "switch") {
    const isOn = value ?? field.default_words === "true";
    return make("input", { ...common, type: "checkbox", checked: isOn === true });
  }
  if (shape.form === "choice") return choiceControl(field, shape, value, common);
  if (field.name === "notes") return make("textarea", { ...common, rows: 2 }, value ?? "");
  const text = Array.isArray(value) ? value.join(" ") : (value ?? "");
  const usual = field.default_words && field.default_words !== '""' ? usualWords(field) : null;
  const isNumber = shape.form === "number" || shape.form === "numbers";
  return make("input", {
    ...common,
    type: "text",
    autocomplete: "off",
    spellcheck: "false",
    class: isNumber && "number",
    placeholder: usual,
    value: `${text}`,
  });
}

function choiceControl(field, shape, value, common) {
  const isKnown = shape.choices.some((choice) => choice.value === value);
  return make(
    "select",
    common,
    field.is_required && value !== undefined
      ? null
      : option("", field.default_words ? `as usual (${usualWords(field)})` : "left out", value === undefined),
    shape.choices.map((choice) => option(choice.value, choice.words, choice.value === value)),
    value === undefined || isKnown ? null : option(`${value}`, `${value}`, true),
  );
}

export function takeOut(place, what, from) {
  const words = `Take out ${what}`;
  return make(
    "button",
    { type: "button", class: "plain", "data-do": "take-out", "data-place": placeKey(place), "aria-label": `${words} from ${from}` },
    "Take out",
  );
}

// A list to pick from, a button, and what the picked one is (data-means of its option).
export function adder(place, label, groups, words = "Add") {
  const id = `${placeId(place)}-new`;
  const first = groups[0].querySelector("option");
  return make(
    "div",
    { class: "adder" },
    make("label", { for: id }, label),
    make("div", { class: "row" },
      make("select", { id, "data-do": "pick", "data-keep": true, "aria-describedby": `${id}-means` }, groups),
      make("button", { type: "button", class: "plain", "data-do": "add", "data-from": id, "data-place": placeKey(place) }, words),
    ),
    make("p", { class: "soft small help", id: `${id}-means`, "data-keep": true }, first.dataset.means ?? ""),
  );
}
