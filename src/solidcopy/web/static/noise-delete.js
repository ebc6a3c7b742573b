// Asks before a recording is deleted.
import { ask, doing } from "/static/bench.js";

function button(words, look) {
  const made = document.createElement("button");
  made.textContent = words;
  made.type = "button";
  if (look) made.className = look;
  return made;
}

function question(name) {
  const box = document.createElement("dialog");
  const words = document.createElement("p");
  words.id = "delete-words";
  words.textContent = `Delete ${name} from the bench folder? It cannot be got back from here.`;
  box.setAttribute("aria-labelledby", words.id);
  const row = document.createElement("p");
  row.className = "row";
  const [yes, no] = [button("Delete it"), button("Keep it", "plain")];
  row.append(no, yes);
  box.append(words, row);
  document.body.append(box);
  return { box, yes, no };
}

// `after` is called when the recording is gone.
export function offerDelete(opener, after) {
  const name = opener.dataset.delete;
  opener.addEventListener("click", () => {
    const { box, yes, no } = question(name);
    no.addEventListener("click", () => box.close());
    box.addEventListener("close", () => {
      box.remove();
      opener.focus();
    });
    yes.addEventListener("click", () => {
      box.close();
      doing(opener, async () => {
        await ask("DELETE", `/api/recordings/${encodeURIComponent(name)}`);
        after();
      });
    });
    box.showModal();
  });
}
