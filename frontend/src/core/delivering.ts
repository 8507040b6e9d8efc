/** What stands between the outbox and the network: interfaces that the device fills in, and a simulation in tests. */
import type { OperationSent, Told } from "./outbox";

/** What came of handing a batch to the network. */
export type Delivered =
  | { readonly what: "answered"; readonly answers: readonly Told[]; readonly server_time: string }
  /** No signal, a lost answer, or a server in trouble: the same batch comes again. */
  | { readonly what: "not reached" }
  | { readonly what: "wait"; readonly seconds: number }
  | { readonly what: "too large" }
  /** The batch as a whole could not be read. */
  | { readonly what: "not read"; readonly detail: string }
  | { readonly what: "signed out" }
  /** The server no longer speaks this app's protocol. */
  | { readonly what: "app too old"; readonly detail: string };

export interface Server {
  push(operations: readonly OperationSent[], deviceTime: string): Promise<Delivered>;
}

/** Lets one holder in at a time, over all tabs; null where somebody else is in already. */
export interface OneAtATime {
  run<Result>(work: () => Promise<Result>): Promise<Result | null>;
}
