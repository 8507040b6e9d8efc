/** Where the app stands: its own addresses, so that back and reload do what people expect. */
import { app } from "./kept.svelte";

const HOME = import.meta.env.BASE_URL;

class Way {
  /** The parts of the address below the app's own: ["haul", id]. */
  parts = $state<readonly string[]>(partsOf(location.pathname));

  /** Where one came from to this place; undefined where the app was opened here. */
  from = $state<readonly string[] | undefined>(fromOf(history.state));

  constructor() {
    addEventListener("popstate", () => {
      this.parts = partsOf(location.pathname);
      this.from = fromOf(history.state);
    });
  }

  go(...parts: readonly string[]): void {
    const address = HOME + parts.map(encodeURIComponent).join("/");
    // Between two screens nothing is under way: the moment for the version that another tab took.
    if (app.renewed) {
      location.assign(address);
      return;
    }
    // Kept with the place itself, so that it outlives a reload.
    history.pushState({ from: [...this.parts] }, "", address);
    this.from = this.parts;
    this.parts = parts;
    scrollTo(0, 0);
  }

  /** Go without leaving the place behind in the history. */
  turn(...parts: readonly string[]): void {
    history.replaceState(history.state, "", HOME + parts.map(encodeURIComponent).join("/"));
    this.parts = parts;
  }
}

function fromOf(state: unknown): string[] | undefined {
  const from = (state as { from?: unknown } | null)?.from;
  return Array.isArray(from) ? from.map(String) : undefined;
}

function partsOf(path: string): string[] {
  return path.slice(HOME.length).split("/").filter((part) => part !== "").map(decodeURIComponent);
}

export const way = new Way();
