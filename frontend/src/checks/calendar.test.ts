import { describe, expect, test } from "vitest";
import { endOfDay, holds, HOUR, instant, isoDay, localDay, onDay, parseDay, permitYearStart, spanOf, spokenTime, startOfDay, weekday } from "./calendar";

const SYDNEY = "Australia/Sydney";

describe("clock changes lose and double no hour", () => {
  // In 2027 clocks there go back on 4 April and forward on 3 October, at 3 and 2 in the night (zone database).
  test("a time that came twice needs its offset", () => {
    expect(() => instant("2027-04-04T02:30", SYDNEY)).toThrow("came twice");
    const first = instant("2027-04-04T02:30+11:00", SYDNEY);
    const second = instant("2027-04-04T02:30+10:00", SYDNEY);
    expect(second - first).toBe(HOUR);
    expect(isoDay(localDay(first, SYDNEY))).toBe("2027-04-04");
  });

  test("a time that was skipped did not exist", () => {
    expect(() => instant("2027-10-03T02:30", SYDNEY)).toThrow("did not exist");
    expect(instant("2027-10-03T03:00", SYDNEY) - instant("2027-10-03T01:59", SYDNEY)).toBe(60_000);
  });

  test("the days of the changes have 25 and 23 hours", () => {
    const hours = (day: string): number => (endOfDay(parseDay(day), SYDNEY) - startOfDay(parseDay(day), SYDNEY)) / HOUR;
    expect(hours("2027-04-04")).toBe(25);
    expect(hours("2027-10-03")).toBe(23);
    expect(hours("2027-10-04")).toBe(24);
  });

  test("a day that begins at one in the morning, where clocks go forward at midnight", () => {
    // America/Sao_Paulo, 4 November 2018.
    const begins = startOfDay(parseDay("2018-11-04"), "America/Sao_Paulo");
    expect(spokenTime(begins, "America/Sao_Paulo")).toBe("4 Nov 2018 01:00");
  });
});

test("a day is the authority's: the same moment is another day elsewhere", () => {
  const at = instant("2027-06-11T23:30", SYDNEY);
  expect(isoDay(localDay(at, SYDNEY))).toBe("2027-06-11");
  expect(isoDay(localDay(at, "Pacific/Auckland"))).toBe("2027-06-12");
});

test("times that are none are refused in words", () => {
  for (const wrong of ["tomorrow", "2027-02-30T10:00", "2027-06-11T24:00", "2027-06-11T10:60", "11.06.2027 10:00"]) {
    expect(() => instant(wrong, "UTC"), wrong).toThrow(RangeError);
  }
  expect(() => instant("2027-06-11T10:00", "Merrowing/Inlet")).toThrow("not a time zone");
});

test("seconds and parts of them are read", () => {
  expect(instant("2027-06-11T10:00:30.250Z", "UTC") - instant("2027-06-11T10:00Z", "UTC")).toBe(30_250);
  expect(instant("2027-06-11T10:00-03:30", "UTC")).toBe(instant("2027-06-11T13:30Z", "UTC"));
});

test("29 February is 28 February where there is none", () => {
  expect(isoDay(onDay([2, 29], 2027))).toBe("2027-02-28");
  expect(isoDay(onDay([2, 29], 2028))).toBe("2028-02-29");
  expect(isoDay(permitYearStart(parseDay("2028-02-28"), [2, 29]))).toBe("2027-02-28");
});

test("a yearly range over the turn of the year, with an end that does not belong", () => {
  const winter = { first: "11-15", last: "02-01", last_included: false };
  expect(holds(winter, parseDay("2027-12-31"))).toBe(true);
  expect(holds(winter, parseDay("2028-01-31"))).toBe(true);
  expect(holds(winter, parseDay("2028-02-01"))).toBe(false);
  expect(spanOf(winter, parseDay("2028-01-05")).map(isoDay)).toEqual(["2027-11-15", "2028-01-31"]);
});

test("weekdays, also before 1970", () => {
  expect(weekday(parseDay("2027-06-11"))).toBe("Friday");
  expect(weekday(parseDay("1969-12-31"))).toBe("Wednesday");
});
