/** One sender at a time over all tabs of this phone's browser. */
import type { OneAtATime } from "../core/delivering";

const NAME = "creekledger sends";

/** By the browser's own locks, which a tab that dies gives back; where there are none, within this tab alone. */
export function oneAtATime(locks: LockManager | undefined = globalThis.navigator?.locks): OneAtATime {
  if (locks !== undefined) {
    return {
      run: (work) => locks.request(NAME, { ifAvailable: true }, async (lock) => (lock === null ? null : await work())),
    };
  }
  let busy = false;
  return {
    async run(work) {
      if (busy) return null;
      busy = true;
      try {
        return await work();
      } finally {
        busy = false;
      }
    },
  };
}
