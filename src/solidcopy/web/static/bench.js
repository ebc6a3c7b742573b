// What every page uses: requests with the page's key, and one place to speak.
const key = document.querySelector('meta[name="bench-key"]').content;

export function say(words) {
  document.getElementById("say").textContent = words;
}

export async function ask(method, path, body) {
  const headers = { "x-bench-key": key };
  if (body !== undefined) headers["content-type"] = "application/json";
  let answer;
  try {
    answer = await fetch(path, { method, headers, body: body && JSON.stringify(body) });
  } catch {
    throw new Error("The bench does not answer. Is it still running?");
  }
  const found = await answer.json();
  if (!answer.ok) throw Object.assign(new Error(found.sentence), { problem: found });
  return found;
}

// Runs an action of a button: one at a time, and what went wrong is said.
export async function doing(button, action) {
  button.disabled = true;
  try {
    await action();
  } catch (error) {
    say(error.message);
  } finally {
    button.disabled = false;
    // A disabled button loses the focus; who works by keyboard goes on from it.
    if (document.activeElement === document.body) button.focus();
  }
}
