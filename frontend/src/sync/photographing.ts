/** Photos: kept with their record on this phone, and sent in parts once the record has arrived. */
import { isOpen } from "../core/trip_records";
import { AnswerError, type Office } from "../device/office";
import type { PhoneDatabase, Picture, StoredRecord } from "../device/database";

const MEDIA_TYPES = ["image/jpeg", "image/png", "image/webp"];
const MOST_PARTS = 100_000;

/** Make what the database keeps of a photo; throws RangeError for a kind of picture that the server does not take. */
export async function pictureOf(
  id: string,
  file: Blob,
  of: { readonly kind: Picture["of_kind"]; readonly record: string },
  at: number,
): Promise<Picture> {
  if (!MEDIA_TYPES.includes(file.type)) {
    throw new RangeError(`A photo is wanted as JPEG, PNG or WebP; this file is ${file.type || "of no known kind"}.`);
  }
  const bytes = await file.arrayBuffer();
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const sha256 = [...hash].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  const made_at = new Date(at).toISOString();
  const own = { of_kind: of.kind, of_record: of.record, media_type: file.type, made_at, state: "waiting", problem: "" } as const;
  return { id, sha256, bytes, ...own };
}

/** A photo without a row waits as long as its haul is open: until it is given to one, or goes with the haul itself. */
const waitsForARow = (picture: Picture, record: StoredRecord): boolean => picture.of_kind === "haul" && isOpen(record.content);

/**
 * Send the photos whose records the server has. One leaves this phone only when the server has read it back whole.
 * Gives how many are still here.
 */
export async function sendPictures(db: PhoneDatabase, office: Office): Promise<number> {
  for (const picture of await db.pictures.toArray()) {
    const record = await db.records.get([picture.of_kind, picture.of_record]);
    if (picture.state !== "waiting" || record?.version == null || waitsForARow(picture, record)) continue;
    try {
      await sendOne(office, picture);
      await db.pictures.delete(picture.id);
    } catch (error) {
      if (!(error instanceof AnswerError) || ![413, 415, 422].includes(error.status)) throw error;
      await db.pictures.update(picture.id, { state: "refused", problem: error.message });
    }
  }
  return db.pictures.count();
}

async function sendOne(office: Office, picture: Picture): Promise<void> {
  const { sha256, bytes, media_type, of_kind, of_record, made_at } = picture;
  let stands = await office.announce({ sha256, size: bytes.byteLength, media_type, of_kind, of_record, made_at });
  for (let part = 0; !stands.whole && part < MOST_PARTS; part++) {
    const { offset, part_bytes } = stands;
    try {
      stands = await office.part(sha256, offset, bytes.slice(offset, offset + part_bytes));
    } catch (error) {
      const told = (error as { offset?: unknown }).offset;
      if (!(error instanceof AnswerError) || error.status !== 409 || typeof told !== "number") throw error;
      stands = { ...stands, offset: told };
    }
  }
}
