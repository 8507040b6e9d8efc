/** Where the app stands: its own addresses, so that back and reload do what people expect. */
import { app } from "./kept.svelte";

const HOME = import.meta.env.BASE_URL;

class Way {
  /** The parts of the address below the app's own: ["haul", id]. */
  parts = $state<readonly string[]>(partsOf(location.pathname));

  constructor() {
    addEventListener("popstate", () => (this.parts = partsOf(location.pathname)));
  }

  go(...parts: readonly string[]): void {
    const address = HOME + parts.map(encodeURIComponent).join("/");
    // Between two screens nothing is under way: the moment for the version that another tab took.
    if (app.renewed) {
      location.assign(address);
      return;
    }
    history.pushState(null, "", address);
    this.parts = parts;
    scrollTo(0, 0);
  }

  /** Go without leaving the place behind in the history. */
  turn(...parts: readonly string[]): void {
    history.replaceState(null, "", HOME + parts.map(encodeURIComponent).join("/"));
    this.parts = parts;
  }
}

function partsOf(path: string): string[] {
  return path.slice(HOME.length).split("/").filter((part) => part !== "").map(decodeURIComponent);
}

export const way = new Way();
