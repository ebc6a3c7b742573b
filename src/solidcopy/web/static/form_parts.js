// Small pieces of a form that is drawn anew after each change and laid over the one that is there.

export function make(kind, attributes = {}, ...children) {
  const made = document.createElement(kind);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return made;
}

export function option(value, words, isChosen = false) {
  return make("option", { value, selected: isChosen }, words);
}

export const placeKey = (place) => JSON.stringify(place);
export const placeId = (place) => `at-${place.join("-")}`;

// Make `old` look like `fresh` and keep what a person is at: the focus, what was typed and not yet
// sent, what was folded out. What has data-keep is left alone.
export function layOver(old, fresh) {
  if (old.nodeType !== fresh.nodeType || old.nodeName !== fresh.nodeName) {
    old.replaceWith(fresh);
    return;
  }
  if (old.nodeType !== Node.ELEMENT_NODE) {
    if (old.nodeValue !== fresh.nodeValue) old.nodeValue = fresh.nodeValue;
    return;
  }
  if (old.id !== fresh.id || (old.dataset.key ?? "") !== (fresh.dataset.key ?? "")) {
    old.replaceWith(fresh);
    return;
  }
  if ("keep" in fresh.dataset) return;
  layAttributes(old, fresh);
  const [had, wanted] = [[...old.childNodes], [...fresh.childNodes]];
  had.slice(wanted.length).forEach((child) => child.remove());
  wanted.forEach((child, place) => {
    if (place < had.length) layOver(had[place], child);
    else old.append(child);
  });
  layValue(old, fresh);
}

function layAttributes(old, fresh) {
  for (const { name } of [...old.attributes]) {
    if (name !== "open" && !fresh.hasAttribute(name)) old.removeAttribute(name);
  }
  for (const { name, value } of fresh.attributes) {
    if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
}

function layValue(old, fresh) {
  if (!("value" in old) || old.nodeName === "BUTTON" || old.nodeName === "OPTION") return;
  const isTyping = old === document.activeElement && old.value !== old.sentValue;
  if (old.type === "checkbox") old.checked = fresh.checked;
  else if (old.nodeName === "SELECT" || !isTyping) {
    if (old.value !== fresh.value) old.value = fresh.value;
  }
}
