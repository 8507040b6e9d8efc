/** Keeping the screen on while a haul is in hand, and only then: a dark screen in a wet hand costs the count. */
export function keepAwake(): () => void {
  let lock: WakeLockSentinel | null = null;
  let wanted = true;
  const ask = async (): Promise<void> => {
    if (!wanted || !("wakeLock" in navigator) || document.visibilityState !== "visible") return;
    try {
      lock = await navigator.wakeLock.request("screen");
      if (!wanted) await lock.release();
    } catch {
      // A phone that saves its battery says no; the screen then goes dark as it always does.
    }
  };
  const again = (): void => void ask();
  document.addEventListener("visibilitychange", again);
  void ask();
  return () => {
    wanted = false;
    document.removeEventListener("visibilitychange", again);
    void lock?.release();
  };
}
