/** Whether the app itself is kept on this phone, and whether a newer version waits. */
import { keepApp, type AppKept } from "../device/offline";

export const app = $state<{ kept: AppKept; newer: boolean }>({ kept: "being kept", newer: false });

export function watchApp(): void {
  if (!import.meta.env.PROD) return;
  void keepApp(
    (kept) => (app.kept = kept),
    () => (app.newer = true),
  );
}
