// Tables and charts of a duel.
import { plot } from "/static/plot.js";

const percent = (share) => `${Math.round(100 * share)} %`;
const LEAST_RISK = 1e-6;

function cell(kind, words, scope) {
  const made = document.createElement(kind);
  made.textContent = words;
  if (scope) made.scope = scope;
  return made;
}

function row(cells) {
  const made = document.createElement("tr");
  made.append(...cells);
  return made;
}

export function table(given) {
  const box = document.createElement("div");
  box.className = "scroll";
  box.tabIndex = 0;
  box.setAttribute("role", "region");
  box.setAttribute("aria-label", given.caption);
  const made = document.createElement("table");
  const [head, body] = [document.createElement("thead"), document.createElement("tbody")];
  head.append(row(given.columns.map((words) => cell("th", words, "col"))));
  body.append(
    ...given.rows.map((cells) =>
      row(cells.map((words, k) => (k < given.n_heads ? cell("th", words, "row") : cell("td", words)))),
    ),
  );
  made.append(cell("caption", given.caption), head, body);
  box.append(made);
  const parts = [box];
  if (given.note) {
    const note = cell("p", given.note);
    note.className = "note";
    parts.push(note);
  }
  return parts;
}

function sides(condition, names) {
  return [condition.a, condition.b].flatMap((side, k) => [
    { name: names[k], kind: "line", look: k, x: side.line_values, y: side.line_shares },
    {
      name: names[k],
      kind: "points",
      look: k,
      x: side.values,
      y: side.shares,
      low: side.low,
      high: side.high,
      words: side.values.map((value, i) => `${names[k]} at ${value}: ${percent(side.shares[i])} decoded`),
    },
  ]);
}

export function drawCurves(host, condition, axisLabel, names) {
  const values = [...condition.a.values, ...condition.b.values];
  if (!values.length) return;
  const margin = 0.05 * (Math.max(...values) - Math.min(...values)) || 1;
  plot(host, {
    name: `${condition.name}: share of messages decoded by A and by B`,
    x: { label: axisLabel, min: Math.min(...values) - margin, max: Math.max(...values) + margin },
    y: { label: "messages decoded", min: 0, max: 1, format: percent },
    series: sides(condition, names),
    legend: true,
  });
}

// The risk at which the trials so far would decide, as it fell (or did not) while they came in.
export function drawPath(host, condition) {
  const { n_trials: n, p_values: p, leads, risk } = condition.path;
  if (!n.length) return;
  const told = p.map((value) => Math.max(value, LEAST_RISK));
  const from = Math.min(risk / 5, ...told);
  plot(host, {
    name: `${condition.name}: how the decision grew`,
    x: { label: "trials at each axis value", min: 0, max: Math.max(...n, 2) },
    y: { label: "risk at which it is decided", min: from, max: 1, log: true, format: (v) => `${Number((100 * v).toPrecision(2))} %` },
    series: [
      { name: `decided below ${percent(risk)}`, kind: "rules", look: 6, x: [], y: [risk] },
      { name: "so far", kind: "line", look: 4, x: n, y: told },
      {
        name: "so far",
        kind: "points",
        look: 4,
        x: n,
        y: told,
        words: n.map((count, k) => `after ${count} trials: ${Number((100 * p[k]).toPrecision(2))} %${leads[k] ? `, ${leads[k]} ahead` : ", even"}`),
      },
    ],
    legend: true,
  });
}
