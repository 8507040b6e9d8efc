/** Ids that the phone gives: UUIDs of version 7 (RFC 9562, 5.7), which sort by the time at which they were made. */

/**
 * Makes ids from a clock and a source of chance, both handed in.
 *
 * Within one millisecond, and where the clock steps back, the time goes on from the last id by one (RFC 9562, 6.2), so
 * that ids of one phone always sort in the order in which they were made.
 */
export class IdMaker {
  private last = 0;

  constructor(
    private readonly now: () => number,
    private readonly fillWithChance: (bytes: Uint8Array<ArrayBuffer>) => void,
  ) {}

  next(): string {
    this.last = Math.max(this.last + 1, Math.floor(this.now()));
    const bytes = new Uint8Array(16);
    this.fillWithChance(bytes);
    let rest = this.last;
    for (let place = 5; place >= 0; place--) {
      bytes[place] = rest % 256;
      rest = Math.floor(rest / 256);
    }
    bytes[6] = 0x70 | ((bytes[6] ?? 0) & 0x0f);
    bytes[8] = 0x80 | ((bytes[8] ?? 0) & 0x3f);
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }
}
