/** Whether the app itself is kept on this phone, and whether a newer version waits. */
import { keepApp, type AppKept } from "../device/offline";

/** `renewed`: another tab took a newer version, and this one still runs the old. */
export const app = $state<{ kept: AppKept; newer: boolean; renewed: boolean }>({ kept: "being kept", newer: false, renewed: false });

export function watchApp(): void {
  if (!import.meta.env.PROD) return;
  void keepApp(
    (kept) => (app.kept = kept),
    () => (app.newer = true),
    () => (app.renewed = true),
  );
}
