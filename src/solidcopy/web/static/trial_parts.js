// Small pieces of the pages on one trial.
import { svg } from "/static/plot_marks.js";

export const part = (id) => document.getElementById(id);

export const SUM = -1;
const N_SOURCE_LOOKS = 7;

// The sum has the look of ink; sources take the others in turn.
export function lookOf(number) {
  return number === SUM ? N_SOURCE_LOOKS : number % N_SOURCE_LOOKS;
}

// The sign of a source in pictures: its colour and dash.
export function heads(source) {
  if (source.family === "path" || source.family === "chain") return "";
  const line = svg("path", { d: "M1,1H27V13H1Z", class: "outline" });
  return svg("svg", { width: 28, height: 14, "aria-hidden": "true" }, svg("g", { class: `series look-${lookOf(source.number)}` }, line));
}

// Fills a table; `words` are the columns of text.
export function table(host, columns, rows, words) {
  const cell = (kind, content, column) => {
    const made = document.createElement(kind);
    made.append(content);
    if (words.includes(column)) made.className = "words";
    return made;
  };
  const head = document.createElement("tr");
  head.append(
    ...columns.map((name, column) => {
      const made = cell("th", name, column);
      made.scope = "col";
      return made;
    }),
  );
  const body = rows.map((row) => {
    const made = document.createElement("tr");
    made.append(
      ...row.map((content, column) => {
        const one = cell(column ? "td" : "th", content, column);
        if (!column) one.scope = "row";
        return one;
      }),
    );
    return made;
  });
  const [top, bottom] = [document.createElement("thead"), document.createElement("tbody")];
  top.append(head);
  bottom.append(...body);
  host.replaceChildren(top, bottom);
}
