// A player starts quiet, and says how quiet it is.
const START = 0.1;

export function quiet(player, words) {
  const tell = () => {
    const share = player.muted ? 0 : player.volume;
    const db = share > 0 ? `${Math.round(20 * Math.log10(share))} dB` : "silent";
    words.textContent = `Volume ${Math.round(100 * share)} % (${db.replace("-", "−")} against the sound as it is).`;
  };
  player.volume = START;
  player.addEventListener("volumechange", tell);
  tell();
}
