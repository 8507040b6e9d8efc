/** Nothing that comes in while something runs is left behind. */
import { expect, test } from "vitest";
import { OnceMore } from "./once_more";

test("what is asked for while it runs is done once more, however often it was asked", async () => {
  const doors: (() => void)[] = [];
  const more = new OnceMore(() => new Promise<string>((open) => doors.push(() => open(`round ${doors.length}`))), () => true);
  const first = more.run();
  await Promise.resolve();
  await Promise.resolve();
  const [second, third] = [more.run(), more.run()];
  doors[0]?.();
  await new Promise((later) => setTimeout(later));
  expect(doors).toHaveLength(2);
  doors[1]?.();
  expect(await Promise.all([first, second, third])).toEqual(["round 2", "round 2", "round 2"]);
  expect(doors).toHaveLength(2);
});

test("asked for at any moment, it is begun after that moment", async () => {
  // A counter that may be asked between any two steps of the one who works: what it shows is never left unseen.
  for (let moment = 0; moment < 12; moment++) {
    let [written, seen] = [0, -1];
    const more = new OnceMore(async () => {
      await null;
      seen = written;
      await null;
      await null;
    }, () => true);
    const running = more.run();
    for (let step = 0; step < moment; step++) await null;
    written = 1;
    await more.run();
    await running;
    expect(seen).toBe(1);
  }
});

test("what is not worth doing once more is left, and the next call does it", async () => {
  let rounds = 0;
  const more = new OnceMore(async () => ++rounds, () => false);
  const first = more.run();
  await more.run();
  expect([await first, rounds]).toEqual([1, 1]);
  expect(await more.run()).toBe(2);
});

test("a failure reaches everybody who asked, and the next call begins anew", async () => {
  let fails = true;
  const more = new OnceMore(async () => {
    if (fails) throw new RangeError("no");
    return "yes";
  }, () => true);
  const told = await Promise.allSettled([more.run(), more.run()]);
  expect(told.map((one) => one.status)).toEqual(["rejected", "rejected"]);
  fails = false;
  expect(await more.run()).toBe("yes");
});
