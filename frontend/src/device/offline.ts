/** Whether this phone keeps the app itself, and what a newer version of it is waiting for. */
export type AppKept = "kept" | "being kept" | "not possible here" | "failed";

/**
 * Register the service worker and tell, as it changes, whether the app opens without signal.
 *
 * Outside a secure context (plain http to another machine) browsers offer no worker at all: then "not possible here".
 */
export async function keepApp(tell: (state: AppKept) => void): Promise<void> {
  if (!("serviceWorker" in navigator) || !window.isSecureContext) {
    tell("not possible here");
    return;
  }
  tell("being kept");
  try {
    await navigator.serviceWorker.register(`${import.meta.env.BASE_URL}sw.js`, { scope: import.meta.env.BASE_URL });
    await navigator.serviceWorker.ready;
    tell("kept");
  } catch {
    tell("failed");
  }
}
