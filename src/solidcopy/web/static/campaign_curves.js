// Curves of one campaign, and of another one laid over them: bands, fitted lines, points.
import { plot } from "/static/plot.js";
import { rangeOf } from "/static/plot_scale.js";

export const SHARES = { label: "messages decoded", min: -0.03, max: 1.03, ticks: [0, 0.25, 0.5, 0.75, 1], format: (v) => `${Math.round(100 * v)} %` };

function seriesOf(curve, look, campaign, prefix) {
  const name = `${prefix}${curve.name}`;
  const made = [];
  const { line } = curve;
  if (line) {
    made.push({ name, kind: "band", look, x: line.band_x, low: line.p_low, high: line.p_high });
    made.push({ name, kind: "line", look, x: line.x, y: line.p });
  }
  const tried = curve.points.filter((point) => point.share !== null);
  made.push({
    name,
    kind: "points",
    look,
    x: tried.map((point) => point.x),
    y: tried.map((point) => point.share),
    low: tried.map((point) => point.low),
    high: tried.map((point) => point.high),
    words: tried.map((point) => `${name}, ${point.words}`),
    picks: tried.map((point) => ({ condition: curve.condition, receiver: curve.receiver, axisValue: point.axis_value })),
    campaign,
  });
  return made;
}

export function showCurves(name, results, beside, pick) {
  const section = document.getElementById("single");
  section.hidden = !results.curves.length;
  if (section.hidden) return;
  const others = beside?.results.curves ?? [];
  const title = beside ? `${beside.name}: ` : "";
  const series = [
    ...results.curves.flatMap((curve, k) => seriesOf(curve, k, name, "")),
    ...others.flatMap((curve, k) => seriesOf(curve, results.curves.length + k, beside.name, title)),
  ];
  series.push({ name: "", kind: "rules", look: 6, x: [], y: [0.5] });
  const values = [results, ...(beside ? [beside.results] : [])].flatMap((one) => one.axis.x);
  plot(document.getElementById("curves"), {
    name: `Share of messages decoded against ${results.axis.label}. Error bars and bands: 95 %.`,
    x: { label: results.axis.label, ...rangeOf(values) },
    y: SHARES,
    series,
    legend: true,
    onPick: (one, k) => pick(one.campaign, one.picks[k]),
  });
  const isEarly = results.is_preliminary || beside?.results.is_preliminary;
  showReasons(isEarly ? [] : [...results.curves.map((curve) => ["", curve]), ...others.map((curve) => [title, curve])]);
}

// Why a curve has no line is said once something was tried.
function showReasons(curves) {
  const items = curves
    .filter(([, curve]) => curve.why_no_line && curve.points.some((point) => point.share !== null))
    .map(([prefix, curve]) => {
      const item = document.createElement("li");
      item.textContent = `${prefix}${curve.name}: no curve is fitted yet; ${curve.why_no_line}.`;
      return item;
    });
  document.getElementById("no-line").replaceChildren(...items);
}
