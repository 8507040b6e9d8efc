/** Whether this phone promises to keep what is stored, and how much room there is. */

export interface Storage {
  /** null where the browser does not say. */
  readonly kept: boolean | null;
  readonly free_mb: number | null;
}

/** Ask the browser to keep what is stored for good; it may say no. */
export async function askToKeep(): Promise<Storage> {
  const storage = globalThis.navigator?.storage as StorageManager | undefined;
  if (storage === undefined) return { kept: null, free_mb: null };
  const kept = "persist" in storage ? (await storage.persisted()) || (await storage.persist()) : null;
  const told = "estimate" in storage ? await storage.estimate() : {};
  const free = told.quota === undefined ? null : Math.floor((told.quota - (told.usage ?? 0)) / 1e6);
  return { kept, free_mb: free };
}

/** Whether an error says that the phone has no room left. */
export function isFull(error: unknown): boolean {
  const names = [error, (error as { inner?: unknown } | null)?.inner].map((one) => (one as { name?: string } | null)?.name);
  return names.includes("QuotaExceededError");
}
