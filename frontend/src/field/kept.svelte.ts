/** Whether the app itself is kept on this phone, and whether a newer version waits. */
import { keepApp, type AppKept } from "../device/offline";

/** `renewed`: another tab took a newer version, and this one still runs the old. */
export const app = $state<{ kept: AppKept; newer: boolean; renewed: boolean }>({ kept: "being kept", newer: false, renewed: false });

/** What to say of it. */
export const KEPT_WORDS: Readonly<Record<AppKept, string>> = {
  kept: "This phone keeps the app: it opens without signal.",
  "being kept": "The app is being kept on this phone.",
  "not possible here": "This address is not https, so the phone cannot keep the app. Ask for the https address.",
  failed: "The phone could not keep the app. Stay in signal, and open it again.",
};

export function watchApp(): void {
  if (!import.meta.env.PROD) return;
  void keepApp(
    (kept) => (app.kept = kept),
    () => (app.newer = true),
    () => (app.renewed = true),
  );
}
