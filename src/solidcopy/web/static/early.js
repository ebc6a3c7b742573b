// A button that is pressed before the page's scripts run waits for them; a form that is sent before
// would be sent by the browser itself, and what was typed would be lost.
let waiting = null;

function hold(event) {
  const button = event.target.closest("button");
  if (button === null) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  waiting = button;
}

document.addEventListener("click", hold, true);
document.addEventListener("DOMContentLoaded", () => {
  document.removeEventListener("click", hold, true);
  waiting?.click();
});
