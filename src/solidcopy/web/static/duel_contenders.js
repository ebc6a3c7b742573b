// What of the bench can be set against each other.
import { ask, say } from "/static/bench.js";

// An event of the document: a duel began or ended, so there may be another campaign.
export const CHANGED = "contenders-changed";

export async function contenders() {
  try {
    return await ask("GET", "/api/contenders");
  } catch (error) {
    say(error.message);
    return [];
  }
}
