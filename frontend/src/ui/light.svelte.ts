/** The light that the screen is read in: sun (dark ink on white) or dusk. Remembered on this phone. */
export type Light = "sun" | "dusk";
const KEY = "creekledger light";

export const light = $state<{ now: Light }>({ now: remembered() });
shown(light.now);

export function setLight(now: Light): void {
  light.now = now;
  shown(now);
  try {
    localStorage.setItem(KEY, now);
  } catch {
    // Without storage the choice lasts until the app is closed.
  }
}

function shown(now: Light): void {
  document.documentElement.dataset["light"] = now;
}

function remembered(): Light {
  try {
    return localStorage.getItem(KEY) === "dusk" ? "dusk" : "sun";
  } catch {
    return "sun";
  }
}
