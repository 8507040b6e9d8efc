/** Photos: told by their bytes, sent in parts, and gone from the phone only when the server has read them back. */
import "fake-indexeddb/auto";
import { createHash } from "node:crypto";
import { beforeEach, describe, expect, test } from "vitest";
import { PhoneDatabase } from "../device/database";
import { AnswerError, NoSignalError, type Office, type PhotoStanding } from "../device/office";
import { pictureOf, sendPictures } from "./photographing";

const AT = Date.parse("2028-07-14T02:30:15.500Z");
const BYTES = Uint8Array.from({ length: 1000 }, (_none, place) => (place * 7) % 256);
const SHA256 = createHash("sha256").update(BYTES).digest("hex");

let db: PhoneDatabase;
let name = 0;

beforeEach(async () => {
  name += 1;
  db = new PhoneDatabase(`photos ${name}`);
});

/** A server that takes parts of so many bytes and says `whole` once all of them are there and their hash is right. */
class Darkroom {
  readonly announced: Record<string, unknown>[] = [];
  readonly parts: [number, number][] = [];
  held = new Uint8Array(0);

  constructor(
    readonly size: number,
    readonly part_bytes = 300,
    readonly before: (darkroom: Darkroom) => void = () => undefined,
  ) {}

  async announce(photo: Record<string, unknown>): Promise<PhotoStanding> {
    this.announced.push(photo);
    return this.standing();
  }

  async part(_sha256: string, offset: number, bytes: ArrayBuffer): Promise<PhotoStanding> {
    this.parts.push([offset, bytes.byteLength]);
    this.before(this);
    if (offset !== this.held.length) throw Object.assign(new AnswerError(409, "go on from another place"), { offset: this.held.length });
    this.held = new Uint8Array([...this.held, ...new Uint8Array(bytes)]);
    return this.standing();
  }

  private standing(): PhotoStanding {
    return { sha256: SHA256, offset: this.held.length, whole: this.held.length === this.size, part_bytes: this.part_bytes };
  }
}

async function aPhoto(version: number | null = 1): Promise<void> {
  await db.records.put({ kind: "line", id: "l", parent: "h", content: { id: "l" }, version, code: "", conflict: "" });
  await db.pictures.put(await pictureOf("p", new Blob([BYTES], { type: "image/jpeg" }), { kind: "line", record: "l" }, AT));
}

const sent = (to: Darkroom): Promise<number> => sendPictures(db, to as unknown as Office);

describe("what is kept of a photo", () => {
  test("are its bytes, their hash, what it shows and when it was made", async () => {
    await aPhoto();
    const { bytes, ...told } = (await db.pictures.get("p"))!;
    expect(new Uint8Array(bytes)).toEqual(BYTES);
    expect(told).toEqual({ id: "p", sha256: SHA256, of_kind: "line", of_record: "l", media_type: "image/jpeg", made_at: "2028-07-14T02:30:15.500Z", state: "waiting", problem: "" });
  });

  test.each(["image/heic", "application/pdf", ""])("a file of type “%s” is refused in words", async (type) => {
    await expect(pictureOf("p", new Blob([BYTES], { type }), { kind: "trip", record: "t" }, AT)).rejects.toThrow(/JPEG, PNG or WebP/);
  });
});

describe("sending", () => {
  test("goes part by part, and the photo leaves when the server has it whole", async () => {
    await aPhoto();
    const darkroom = new Darkroom(1000);
    expect(await sent(darkroom)).toBe(0);
    expect(darkroom.parts).toEqual([[0, 300], [300, 300], [600, 300], [900, 100]]);
    expect(darkroom.held).toEqual(BYTES);
    expect(darkroom.announced).toEqual([{ sha256: SHA256, size: 1000, media_type: "image/jpeg", of_kind: "line", of_record: "l", made_at: "2028-07-14T02:30:15.500Z" }]);
  });

  test("waits for its record: the server cannot hang it on nothing", async () => {
    await aPhoto(null);
    const darkroom = new Darkroom(1000);
    expect([await sent(darkroom), darkroom.announced]).toEqual([1, []]);
  });

  test("a photo without a row waits while its haul is open, and then goes with the haul", async () => {
    const haul = { kind: "haul", id: "h", parent: "t", version: 1, code: "", conflict: "" };
    await db.records.put({ ...haul, content: { id: "h" } });
    await db.pictures.put(await pictureOf("p", new Blob([BYTES], { type: "image/jpeg" }), { kind: "haul", record: "h" }, AT));
    const darkroom = new Darkroom(BYTES.length);
    expect([await sent(darkroom), darkroom.announced]).toEqual([1, []]);
    await db.records.put({ ...haul, content: { id: "h", end: "2028-07-14T02:40:00Z" } });
    expect(await sent(darkroom)).toBe(0);
    expect(darkroom.announced[0]).toMatchObject({ of_kind: "haul", of_record: "h" });
  });

  test("goes on from where the server says, after a part was lost on either side", async () => {
    await aPhoto();
    let lost = false;
    const darkroom = new Darkroom(1000, 300, (one) => {
      if (one.parts.length === 3 && !lost) {
        lost = true;
        one.held = one.held.slice(0, 300);
      }
    });
    expect(await sent(darkroom)).toBe(0);
    expect(darkroom.held).toEqual(BYTES);
    expect(darkroom.parts[3]).toEqual([300, 300]);
  });

  test("without signal keeps it, and the next time only the rest goes", async () => {
    await aPhoto();
    const darkroom = new Darkroom(1000, 300, (one) => { if (one.parts.length === 3) throw new NoSignalError("gone"); });
    await expect(sent(darkroom)).rejects.toThrow("gone");
    expect(await db.pictures.count()).toBe(1);
    expect(await sent(darkroom)).toBe(0);
    expect(darkroom.parts.slice(3)).toEqual([[600, 300], [900, 100]]);
  });

  test.each([413, 415, 422])("an answer %d is final: it stays here with the reason, and is not sent again", async (status) => {
    await aPhoto();
    const darkroom = new Darkroom(1000, 300, () => { throw new AnswerError(status, "no picture that anybody can draw"); });
    expect(await sent(darkroom)).toBe(1);
    expect(await db.pictures.get("p")).toMatchObject({ state: "refused", problem: "no picture that anybody can draw" });
    const again = new Darkroom(1000);
    expect([await sent(again), again.announced]).toEqual([1, []]);
  });

  test.each([401, 404, 409])("an answer %d without a place to go on from keeps it waiting", async (status) => {
    await aPhoto();
    const darkroom = new Darkroom(1000, 300, () => { throw new AnswerError(status, "not now"); });
    await expect(sent(darkroom)).rejects.toThrow("not now");
    expect(await db.pictures.get("p")).toMatchObject({ state: "waiting" });
  });
});
