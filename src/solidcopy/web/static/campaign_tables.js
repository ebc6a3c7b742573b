// Tables: those of the report, and the thresholds on the scale that was chosen.
import { plot } from "/static/plot.js";
import { rangeOf } from "/static/plot_scale.js";

const MOST_DRAWN = 12;
const LONGEST_GLUED = 24;
const LONGEST_TICK = 22;

export function element(kind, words, changes = {}) {
  const made = document.createElement(kind);
  if (words !== undefined) made.textContent = words;
  return Object.assign(made, changes);
}

// A short cell stays on one line: a number must not lose its unit or its interval.
const glued = (words) => (words.length > LONGEST_GLUED ? words : words.replaceAll(" ", "\u00a0"));

export function table(caption, columns, rows, nHeads) {
  const made = element("table");
  const side = (k) => (k < nHeads ? "words" : "");
  const head = element("tr");
  head.append(...columns.map((words, k) => element("th", words, { scope: "col", className: side(k) })));
  const lines = rows.map((cells) => {
    const line = element("tr");
    line.append(...cells.map((words, k) => element(k < nHeads ? "th" : "td", glued(words), { className: side(k), ...(k < nHeads ? { scope: "row" } : {}) })));
    return line;
  });
  const [top, body] = [element("thead"), element("tbody")];
  top.append(head);
  body.append(...lines);
  made.append(element("caption", caption), top, body);
  return made;
}

// A table of the report in a box of its own that scrolls.
export function sheet({ caption, columns, rows, note, n_heads: nHeads }) {
  const [made, box] = [element("div", undefined, { className: "sheet" }), element("div", undefined, { className: "scroll", tabIndex: 0 })];
  box.setAttribute("role", "region");
  box.setAttribute("aria-label", caption);
  box.append(table(caption, columns, rows, nHeads));
  made.append(box);
  if (note) made.append(element("p", note, { className: "note" }));
  return made;
}

function thresholds(results, beside) {
  const line = (prefix) => (curve) => [prefix + curve.name, ...curve.thresholds.map((one) => (one.x === null ? `none: ${one.why_none}` : one.words))];
  const others = beside?.results.curves ?? [];
  const rows = [...results.curves.map(line("")), ...others.map(line(`${beside?.name}: `))];
  return {
    caption: `Thresholds: ${results.axis.label}`,
    columns: ["curve", "50 % decoded (95 %)", "90 % decoded (95 %)"],
    rows,
    note: "In brackets the 95 % interval (profile likelihood).",
    n_heads: 1,
  };
}

const short = (words) => (words.length > LONGEST_TICK ? `${words.slice(0, LONGEST_TICK - 1)}…` : words);

function drawDifferences(results) {
  const own = parts.get("differences");
  if (!own.picture) {
    const box = element("div", undefined, { className: "figures" });
    own.picture = element("div");
    own.section.append(box);
    box.append(own.picture, own.body);
  }
  const host = own.picture;
  const isOne = new Set(results.penalties.map((penalty) => penalty.within)).size === 1;
  const of = (penalty) => (isOne ? penalty.name : `${penalty.name}, ${penalty.within}`);
  const names = [...new Set(results.penalties.filter((one) => one.shift !== null).map(of))];
  host.hidden = !names.length || names.length > MOST_DRAWN;
  host.parentElement.classList.toggle("drawn", !host.hidden);
  if (host.hidden) return;
  const series = [0.5, 0.9].map((p, look) => {
    const at = results.penalties.filter((one) => one.p === p && one.shift !== null);
    return {
      name: `at ${100 * p} %`,
      kind: "points",
      look,
      x: at.map((one) => names.indexOf(of(one)) + (look ? 0.12 : -0.12)),
      y: at.map((one) => one.shift),
      low: at.map((one) => one.low),
      high: at.map((one) => one.high),
      words: at.map((one) => `${one.name} against ${one.against}, ${one.within}, at ${100 * p} %: ${one.words}`),
    };
  });
  const unit = results.axis.step_unit ? `, ${results.axis.step_unit}` : "";
  plot(host, {
    name: "Differences from the first, judged in pairs. Error bars: 95 %.",
    x: { label: "compared with the first", min: -0.6, max: names.length - 0.4, ticks: names.map((_, k) => k), format: (k) => short(names[k] ?? "") },
    y: { label: `difference${unit}`, ...rangeOf([0, ...series.flatMap((one) => [...one.low, ...one.high])]) },
    series: [{ name: "", kind: "rules", look: 6, x: [], y: [0] }, ...series],
    legend: true,
    height: 260,
  });
}

const parts = new Map();

// A part of the page is replaced only if its words changed: who reads it keeps place and selection.
function part(key, head, content, isFolded = false) {
  const host = document.getElementById("numbers");
  if (!parts.has(key)) {
    const made = { section: element(isFolded ? "details" : "section"), body: element("div"), text: "" };
    made.section.append(element(isFolded ? "summary" : "h2", head), made.body);
    parts.set(key, made);
    host.append(made.section);
  }
  const made = parts.get(key);
  const text = JSON.stringify(content);
  made.section.hidden = !content.length;
  if (text === made.text) return;
  made.text = text;
  made.body.replaceChildren(...content.map(sheet));
}

const given = (...sheets) => sheets.filter((one) => one !== null);

export function showNumbers(results, beside) {
  part("verdicts", "Who decodes more", given(results.verdicts));
  part("thresholds", "Thresholds", results.curves.length ? [thresholds(results, beside)] : []);
  part("differences", "Differences", given(results.differences));
  drawDifferences(results);
  part("false", "False decodes and failures", given(results.false_decodes, results.failures));
  part("counts", "Counts at each axis value", results.counts.rows.length ? [results.counts] : [], true);
}
