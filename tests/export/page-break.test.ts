import fc from "fast-check";
import { expect, test } from "vitest";
import { breakPages, type PageBlock, usedHeight } from "../../src/export/page-break.js";

const block = (height: number, isSystem = false): PageBlock => ({ height, gap: 10, isSystem });
const system = (height: number): PageBlock => block(height, true);
const heights = (pages: readonly (readonly PageBlock[])[]): number[][] =>
  pages.map((page) => page.map((b) => b.height));

test("page-break: what fits with closer gaps takes one page (by hand: 5 blocks of 19, 4 gaps of 10 on 118)", () => {
  const { pages, gapShare } = breakPages(
    [19, 19, 19, 19, 19].map((h) => block(h)),
    118,
  );
  expect([pages.length, gapShare]).toEqual([1, 0.5]);
});

test("page-break: wide gaps stay where closer ones save nothing", () => {
  expect(breakPages([block(30), block(30)], 200).gapShare).toBe(1);
});

test("page-break: a system left alone is given company, or the music goes to a page of its own (by hand)", () => {
  // Three systems fit behind the head, the fourth would stand alone: 2 + 2, or 4 on the second page.
  const three = breakPages([block(20), system(50), system(50), system(50), system(50)], 205);
  for (const page of heights(three.pages)) expect(page.filter((h) => h === 50).length).not.toBe(1);
  // Two fit, the third would be alone, and so would the first: all three go together, what followed them comes before.
  const two = breakPages([block(100), system(60), system(60), system(61), block(30)], 250);
  expect(heights(two.pages)).toEqual([
    [100, 30],
    [60, 60, 61],
  ]);
});

test("page-break: no block is lost or cut, no page is over its height, music keeps its order, whatever the blocks", () => {
  fc.assert(
    fc.property(
      fc.array(fc.record({ height: fc.integer({ min: 5, max: 90 }), isSystem: fc.boolean() }), {
        maxLength: 30,
      }),
      fc.integer({ min: 90, max: 300 }),
      (list, roomPt) => {
        const blocks = list.map((b, id) => ({ ...b, gap: 12, id }));
        const { pages, gapShare } = breakPages(blocks, roomPt);
        const ids = pages.flat().map((b) => b.id);
        expect([...ids].sort((a, b) => a - b)).toEqual(blocks.map((b) => b.id));
        for (const isSystem of [true, false]) {
          const own = pages.flat().filter((b) => b.isSystem === isSystem);
          expect(own.map((b) => b.id)).toEqual(
            blocks.filter((b) => b.isSystem === isSystem).map((b) => b.id),
          );
        }
        for (const page of pages) {
          expect(page.length).toBeGreaterThan(0);
          expect(usedHeight(page, gapShare)).toBeLessThanOrEqual(roomPt);
        }
      },
    ),
    { numRuns: 300, seed: 5 },
  );
});
