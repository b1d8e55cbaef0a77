/** Blocks onto pages.
 * In: blocks from top to bottom, the height of a page. Out: pages, none over its height, and how far the gaps are drawn together.
 * The systems may go to a page of their own, behind all the other blocks; among themselves both keep their order.
 * Method: the gaps are tried wide, closer and close; of the ways to break, the one with the fewest pages is taken, then the one without a
 * system alone on its page, then the one that leaves the least paper empty before its last page and turns no page in the music, then the widest.
 * Cannot: cut a block. */

/** A stretch of the page that is not broken. Heights and gaps in points; `gap` is kept before the block unless it heads a page. */
export type PageBlock = { height: number; gap: number; isSystem?: boolean };

/** Gaps as a share of those asked for: closer than half, a page looks crammed (by eye, on paper). */
const GAP_SHARES = [1, 0.75, 0.5] as const;

/** What a page more, a system alone, an empty page before the last, a turn in the music and closer gaps cost, beside each other (by eye). */
const PRICES = Object.freeze({ page: 100, loneSystem: 60, empty: 50, turn: 25, closer: 3 });

/** @returns pages and the share of the gaps that they are set with; no page for no block */
export function breakPages<B extends PageBlock>(
  blocks: readonly B[],
  roomPt: number,
): { pages: B[][]; gapShare: number } {
  let best: { pages: B[][]; gapShare: number; price: number } = { pages: [], gapShare: 1, price: Infinity };
  for (const [idx, gapShare] of GAP_SHARES.entries()) {
    const greedy = fill(blocks, roomPt, gapShare);
    for (const pages of [
      greedy,
      companionMoved(greedy, roomPt, gapShare),
      musicMoved(blocks, roomPt, gapShare),
    ]) {
      const price = priceOf(pages, roomPt, gapShare) + PRICES.closer * idx;
      if (price < best.price) best = { pages, gapShare, price };
    }
  }
  return { pages: best.pages, gapShare: best.gapShare };
}

/** Height of a page's blocks with the gaps between them. */
export const usedHeight = (page: readonly PageBlock[], gapShare: number): number =>
  page.reduce((sum, block, idx) => sum + block.height + (idx === 0 ? 0 : block.gap * gapShare), 0);

function fill<B extends PageBlock>(blocks: readonly B[], roomPt: number, gapShare: number): B[][] {
  const pages: B[][] = [];
  for (const block of blocks) {
    const page = pages.at(-1);
    if (page && usedHeight([...page, block], gapShare) <= roomPt) page.push(block);
    else pages.push([block]);
  }
  return pages;
}

const systemCount = (page: readonly PageBlock[]): number => page.filter((b) => b.isSystem).length;

/** A system that would stand alone gets the one before it for company. */
function companionMoved<B extends PageBlock>(pages: readonly B[][], roomPt: number, gapShare: number): B[][] {
  const moved = pages.map((page) => [...page]);
  for (let idx = moved.length - 1; idx > 0; idx--) {
    const page = moved[idx];
    const before = moved[idx - 1];
    if (!page || !before || systemCount(page) !== 1 || systemCount(before) < 3) continue;
    const companion = before.at(-1);
    if (companion?.isSystem && usedHeight([companion, ...page], gapShare) <= roomPt) {
      before.pop();
      page.unshift(companion);
    }
  }
  return moved;
}

/** What stands around the music on the first page, as far as it fits, and all the music from the second on. */
function musicMoved<B extends PageBlock>(blocks: readonly B[], roomPt: number, gapShare: number): B[][] {
  const [lesson = [], ...more] = fill(
    blocks.filter((b) => !b.isSystem),
    roomPt,
    gapShare,
  );
  const music = blocks.filter((b) => b.isSystem);
  return lesson.length === 0 || music.length === 0
    ? fill(blocks, roomPt, gapShare)
    : [lesson, ...fill([...music, ...more.flat()], roomPt, gapShare)];
}

function priceOf(pages: readonly (readonly PageBlock[])[], roomPt: number, gapShare: number): number {
  const counts = pages.map(systemCount);
  const all = counts.reduce((sum, n) => sum + n, 0);
  const lone = all > 1 ? counts.filter((n) => n === 1).length : 0;
  const turns = Math.max(0, counts.filter((n) => n > 0).length - 1);
  const empty = pages
    .slice(0, -1)
    .reduce((sum, page) => sum + Math.max(0, 1 - usedHeight(page, gapShare) / roomPt), 0);
  return pages.length * PRICES.page + lone * PRICES.loneSystem + turns * PRICES.turn + empty * PRICES.empty;
}
