// What a person chose to see. It stands in the address, so that a reload and a link keep it.

const query = new URLSearchParams(location.search);
const AS_PLANNED = "as-planned";

export const view = { scale: query.get("scale") ?? AS_PLANNED, over: query.get("over") ?? "" };

export function keep(changes) {
  Object.assign(view, changes);
  for (const [key, value] of Object.entries(changes)) {
    if (value === null || value === "" || value === AS_PLANNED) query.delete(key);
    else query.set(key, value);
  }
  history.replaceState(null, "", query.size ? `?${query}` : location.pathname);
}

export function kept(key) {
  return query.get(key);
}

export function fill(select, choices, chosen) {
  const same = [...select.options].map((option) => option.value).join("\n") === choices.map(([value]) => value).join("\n");
  if (!same) {
    select.replaceChildren(...choices.map(([value, words]) => new Option(words, value)));
  }
  select.value = chosen;
}

export function showScales(axis, changed) {
  const select = document.getElementById("scale");
  document.getElementById("scale-label").hidden = axis.scales.length < 2;
  fill(select, axis.scales.map((scale) => [scale.key, scale.words]), axis.scale);
  select.onchange = () => {
    keep({ scale: select.value });
    changed();
  };
}

export function showOthers(others, changed) {
  const select = document.getElementById("over");
  document.getElementById("over-label").hidden = !others.length;
  if (!others.some((other) => other.name === view.over)) keep({ over: "" });
  const choices = others.map((other) => [other.name, other.title === other.name ? other.name : `${other.name}: ${other.title}`]);
  fill(select, [["", "no other campaign"], ...choices], view.over);
  select.onchange = () => {
    keep({ over: select.value });
    changed();
  };
}
