// The picking pattern that a study is built on.
// In: sheet notes with fingers and strings, the sheet's grid. Out: the pattern of a bar or half a bar, the bars that
// follow it, and how the others depart. Method: a bar is a set of hits (step and finger); the bar most like all others
// is the model, and each of its hits must be in most bars like it. The thumb's string moves with the chord, so a string
// is told (the most usual one) but does not make a departure. The letters' home strings, p on 6-5-4, i 3, m 2, a 1, are
// common practice, no published source. Cannot do: patterns longer than a bar.
import type { PickFinger } from "../hands/fretted.js";
import { departureNote } from "./departure.js";
import type { Departure, Pattern, PatternHit, SheetGrid, SheetNote } from "./sheet.js";

const PATTERN_DEFAULTS = Object.freeze({
  alike: 0.6, // hits in common over hits in either: a bar built on the pattern, perhaps with a departure
  leastBars: 2,
  leastShare: 0.34, // of all bars that are alike: fewer, and the study is not built on it
  exactShare: 0.3, // of all bars that follow it note for note: with departures nearly everywhere it is no pattern
  halves: 2 / 3, // part of the bars whose halves must agree, strings and all
});

const TICKS_A_BEAT = 24; // as in grid/grid.ts (types only may come from there); a test holds them equal

type Hit = { tick: number; finger: PickFinger; string: number; fret: number };

const keyOf = (h: { tick: number; finger: string }): string =>
  `${String(h.tick).padStart(4, "0")}${h.finger}`;

/** Finds the pattern; undefined where no bar is the model of a third of the others, or fingers are not known.
 * @param notes ties and grace notes are not plucked and do not count */
export function findPattern(notes: readonly SheetNote[], grid: SheetGrid): Pattern | undefined {
  const { beats } = grid.meter;
  const bars: Hit[][] = Array.from({ length: grid.barCount }, () => []);
  for (const n of notes) {
    if (n.finger === undefined || n.marks.some((m) => SLURRED.has(m))) continue;
    bars[n.bar - 1]?.push({ tick: n.tick, finger: n.finger, string: n.string, fret: n.fret });
  }
  const sets = bars.map((hits) => new Set(hits.map(keyOf)));
  const playedBars = sets.filter((s) => s.size > 0).length;
  const model = modelBar(sets);
  if (model === undefined) return undefined;
  const followers = sets.flatMap((s, b) => (alike(model, s) >= PATTERN_DEFAULTS.alike ? [b] : []));
  const least = Math.max(PATTERN_DEFAULTS.leastBars, PATTERN_DEFAULTS.leastShare * playedBars);
  if (followers.length < least) return undefined;

  const votes = new Map<string, Hit[]>();
  for (const b of followers)
    for (const h of bars[b] ?? []) votes.set(keyOf(h), [...(votes.get(keyOf(h)) ?? []), h]);
  const hits = [...votes.values()]
    .filter((v) => {
      const more = 2 * new Set(v).size - followers.length;
      return more > 0 || (more === 0 && model.has(keyOf(v[0] as Hit)));
    })
    .map((v): Hit => ({ ...(v[0] as Hit), string: usualString(v) }))
    .sort((a, b) => a.tick - b.tick || b.string - a.string);
  if (hits.length < 2) return undefined;

  const want = new Set(hits.map(keyOf));
  const patternHits = hits.map(toPatternHit);
  const same: number[] = [];
  const departures: Departure[] = [];
  sets.forEach((set, b) => {
    const missing = patternHits.filter((_, k) => !set.has(keyOf(hits[k] as Hit)));
    const added = (bars[b] ?? []).filter((h) => !want.has(keyOf(h))).map(toPatternHit);
    if (missing.length === 0 && added.length === 0) same.push(b + 1);
    else departures.push({ bar: b + 1, missing, added, note: departureNote(missing, added, patternHits) });
  });
  if (same.length < Math.max(PATTERN_DEFAULTS.leastBars, PATTERN_DEFAULTS.exactShare * playedBars))
    return undefined;
  const exact = same.map((bar) => bar - 1);
  const half = beats % 2 === 0 && halvesAgree(bars, exact, (beats * TICKS_A_BEAT) / 2);
  const shown = half ? hits.filter((h) => h.tick < (beats * TICKS_A_BEAT) / 2) : hits;
  return { beats: half ? beats / 2 : beats, hits: shown.map(toPatternHit), bars: same, departures };
}

const SLURRED: ReadonlySet<string> = new Set(["tie", "grace", "hammer-on", "pull-off", "slide"]);

const toPatternHit = (h: Hit): PatternHit => ({
  beat: 1 + h.tick / TICKS_A_BEAT,
  finger: h.finger,
  string: h.string,
});

/** Hits in common over hits in either, 0…1. */
function alike(a: ReadonlySet<string>, b: ReadonlySet<string>): number {
  let both = 0;
  for (const key of a) if (b.has(key)) both++;
  const either = a.size + b.size - both;
  return either === 0 ? 0 : both / either;
}

/** The set most like all others; of equals, the first. */
function modelBar(sets: readonly ReadonlySet<string>[]): ReadonlySet<string> | undefined {
  const kinds = new Map<string, { set: ReadonlySet<string>; count: number }>();
  for (const set of sets) {
    if (set.size === 0) continue;
    const key = [...set].sort().join(" ");
    const kind = kinds.get(key) ?? { set, count: 0 };
    kind.count++;
    kinds.set(key, kind);
  }
  let best: ReadonlySet<string> | undefined;
  let bestSum = 0;
  for (const { set } of kinds.values()) {
    let sum = 0;
    for (const other of kinds.values()) sum += other.count * alike(set, other.set) ** 2;
    if (sum > bestSum + 1e-9) {
      bestSum = sum;
      best = set;
    }
  }
  return best;
}

function usualString(hits: readonly Hit[]): number {
  const counts = new Map<number, number>();
  for (const h of hits) counts.set(h.string, (counts.get(h.string) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1] || a[0] - b[0])[0]?.[0] ?? 1;
}

type Half = { fingers: string; upper: string; strings: string; thumb: readonly Hit[] };

/** Is the second half of most bars the first again, strings and all? The thumb's string moves with the chord, so halves are compared
 * over the same grip, in this bar or another. Where no grip comes in both halves, the thumb must go on and stay where it did: whether up or
 * down is a matter of where the chord's root lies, and a thumb that goes on in one bar and stays at the same place of another tells nothing. */
function halvesAgree(bars: readonly Hit[][], followers: readonly number[], halfTicks: number): boolean {
  const halves = followers.map((b): [Half, Half] => {
    const hits = bars[b] ?? [];
    return [halfFrom(hits, 0, halfTicks), halfFrom(hits, halfTicks, halfTicks)];
  });
  const byGrip = halves.flatMap(([first, second]) => {
    if (first.fingers !== second.fingers) return [false];
    const known = halves.flatMap(([other]) => (isOneGrip(other, second) ? [other.strings] : []));
    if (known.includes(second.strings)) return [true];
    // A bass that is held within either half and moves between them goes with a chord over another bass.
    return known.length === 0 || (holdsBass(first) && holdsBass(second)) ? [] : [false];
  });
  if (byGrip.length > 0)
    return byGrip.filter((s) => s).length >= PATTERN_DEFAULTS.halves * byGrip.length - 1e-9;
  const firsts = halves.map(([x]) => thumbMoves(x));
  const seconds = halves.map(([, y]) => thumbMoves(y));
  const agree = firsts.filter((moves, k) => moves === seconds[k]).length;
  // Where one way of moving holds for as many halves as two ways, each for its half, would: the second is none of the pattern's.
  const isWalk = halves.every(([x]) => x.thumb.length > 1);
  const isOne = isWalk && mostOf([...firsts, ...seconds]) >= mostOf(firsts) + mostOf(seconds);
  return halves.length > 0 && (isOne || agree >= PATTERN_DEFAULTS.halves * halves.length - 1e-9);
}

/** How often the most usual of some words comes. */
const mostOf = (words: readonly string[]): number =>
  Math.max(0, ...words.map((word) => words.filter((w) => w === word).length));

/** May one grip hold the notes of both: the same under the fingers, and no string at two frets under the thumb? */
const isOneGrip = (a: Half, b: Half): boolean =>
  a.upper === b.upper &&
  a.thumb.every((x) => b.thumb.every((y) => x.string !== y.string || x.fret === y.fret));

const holdsBass = ({ thumb }: Half): boolean =>
  thumb.length > 1 && thumb.every((h) => h.string === thumb[0]?.string);

/** Where the thumb goes from hit to hit: on to another string, or not; a single hit is told by its string. */
const thumbMoves = ({ thumb }: Half): string =>
  thumb.length === 1
    ? String(thumb[0]?.string)
    : thumb.map((h, k) => (k === 0 || h.string === thumb[k - 1]?.string ? "stays" : "goes")).join();

function halfFrom(hits: readonly Hit[], fromTick: number, lenTicks: number): Half {
  const half = hits
    .filter((h) => h.tick >= fromTick && h.tick < fromTick + lenTicks)
    .sort((a, b) => a.tick - b.tick || a.string - b.string);
  const each = (of: (h: Hit) => string): string =>
    half.map((h) => `${h.tick - fromTick} ${h.finger} ${of(h)}`).join();
  return {
    fingers: each(() => ""),
    upper: each((h) => (h.finger === "p" ? "" : `${h.string} ${h.fret}`)),
    strings: each((h) => String(h.string)),
    thumb: half.filter((h) => h.finger === "p"),
  };
}
