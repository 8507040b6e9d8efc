/** Whether this phone keeps the app itself, and what a newer version of it is waiting for. */
export type AppKept = "kept" | "being kept" | "not possible here" | "failed";

/**
 * Register the service worker and tell, as it changes, whether the app opens without signal.
 *
 * Outside a secure context (plain http to another machine) browsers offer no worker at all: then "not possible here".
 * `newer` is told when a newer version lies ready beside this one; it waits until `takeNewer`. `renewed` is told when
 * another tab has taken it: the files of this one are no longer kept.
 */
export async function keepApp(
  tell: (state: AppKept) => void,
  newer: () => void = () => undefined,
  renewed: () => void = () => undefined,
): Promise<void> {
  if (!("serviceWorker" in navigator) || !window.isSecureContext) {
    tell("not possible here");
    return;
  }
  tell("being kept");
  if (navigator.serviceWorker.controller !== null) navigator.serviceWorker.addEventListener("controllerchange", renewed);
  try {
    const home = import.meta.env.BASE_URL;
    const registered = await navigator.serviceWorker.register(`${home}sw.js`, { scope: home });
    watchForNewer(registered, newer);
    await navigator.serviceWorker.ready;
    tell("kept");
  } catch {
    // Without signal the browser cannot ask whether there is a newer one; what is kept goes on answering.
    tell(navigator.serviceWorker.controller === null ? "failed" : "kept");
  }
}

function watchForNewer(registered: ServiceWorkerRegistration, newer: () => void): void {
  const look = (): void => {
    if (registered.waiting !== null && navigator.serviceWorker.controller !== null) newer();
  };
  look();
  registered.addEventListener("updatefound", () => {
    registered.installing?.addEventListener("statechange", look);
  });
}

/** Let the newer version take over, and open the app anew in it. */
export async function takeNewer(): Promise<void> {
  const registered = await navigator.serviceWorker.getRegistration(import.meta.env.BASE_URL);
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload());
  registered?.waiting?.postMessage("take over");
}
