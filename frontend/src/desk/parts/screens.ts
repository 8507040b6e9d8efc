/** What the screens are called. */
import type { ScreenName } from "../desk.svelte";

export const SCREEN_WORDS: Readonly<Record<ScreenName, string>> = {
  gate: "The gate",
  balance: "Balance",
  trips: "Trips",
  versions: "Two versions",
  people: "People and phones",
  report: "Report",
};
