// What the reduction of the fingered set misread, put right from times and pitches alone: no mark is looked at.

/** A row of a fingered file, times in quarters. */
export type Row = {
  beat: number;
  beats: number;
  midi: number;
  string?: number;
  leftFinger?: string;
  rightFinger?: string;
};

/** Rows in one time line that a single player could play, and the tuning that the file itself writes out, if it does. */
export type MendedRows = { rows: Row[]; openMidi?: number[] };

const REST_QUARTERS = 4; // between movements: the hand starts anew

export function mendedRows(rows: readonly Row[]): MendedRows {
  const parts = movements(rows);
  const last = parts[parts.length - 1] ?? [];
  const isChart = parts.length > 1 && isTuningChart(last);
  const music = isChart ? parts.slice(0, -1) : parts;
  const out: Row[] = [];
  let fromBeat = 0;
  for (const part of music) {
    const told = withoutBareNumbers(part);
    const endBeat = Math.max(...told.map((r) => r.beat + r.beats));
    out.push(...told.map((r) => ({ ...r, beat: r.beat + fromBeat })));
    fromBeat = REST_QUARTERS * (Math.ceil((fromBeat + endBeat) / REST_QUARTERS) + 1);
  }
  return isChart ? { rows: out, openMidi: last.map((r) => r.midi) } : { rows: out };
}

/** Movements stand one after another in a file and each counts from 0: a beat that goes back begins the next. */
function movements(rows: readonly Row[]): Row[][] {
  const parts: Row[][] = [];
  rows.forEach((row, k) => {
    const before = rows[k - 1];
    if (before === undefined || row.beat < before.beat) parts.push([]);
    parts[parts.length - 1]?.push(row);
  });
  return parts;
}

/** Six whole notes at beat 0, rising by fourths and a third, say how the strings are tuned; nobody plays them. */
const isTuningChart = (rows: readonly Row[]): boolean =>
  rows.length === 6 &&
  rows.every((r, k) => r.beat === 0 && r.beats === 4 && r.midi > (rows[k - 1]?.midi ?? 0));

const A_QUARTER = 12; // twelfths of a quarter, so that triplets and sixteenths are whole
const TRIPLET = 4;
const WHOLE = 4 * A_QUARTER;

const twelfths = (beats: number): number => Math.round(beats * A_QUARTER);
const isTriplet = (t: number): boolean => t % TRIPLET === 0 && t % 3 !== 0;

/** A voice of triplets in whose source numbers stood alone (a barre's fret, say), which are notation for "the last note again,
 * this long": phantoms that repeat the pitch before them for a whole, a half or a quarter of a bar, or two thirds of one within
 * triplets; the notes after them that had no length of their own took on theirs. Both push the voice later. Phantoms go, and what they
 * lengthened is a triplet again. A file without a note of 8/3 quarters has none of this. */
function withoutBareNumbers(rows: readonly Row[]): Row[] {
  if (!rows.some((r) => twelfths(r.beats) === (2 * WHOLE) / 3)) return [...rows];
  const at = rows.map((r) => twelfths(r.beat));
  const length = rows.map((r) => twelfths(r.beats));
  const moved = new Map<number, { from: number; length: number }>();
  const phantoms = new Set<number>();
  const steadyEnd = endOfQuarters(at, length);
  const all = rows.map((_, k) => k);
  let midi = 0;
  /** Rows of the voice that begin at a place of the file's time line. */
  const startsAt = (t: number): number[] =>
    all.filter(
      (k) =>
        at[k] === t &&
        (isTriplet(t) ||
          isTriplet(length[k] ?? 0) ||
          t >= steadyEnd ||
          (rows[k]?.midi === midi && length[k] === WHOLE)),
    );
  const end = Math.max(...all.map((k) => (at[k] ?? 0) + (length[k] ?? 0)));
  let taken = TRIPLET; // length that a note without one takes on
  let to = 0;
  for (let t = 0; t < end; ) {
    const here = startsAt(t);
    const [k] = here;
    if (k === undefined) {
      const isLong = startsAt(t + TRIPLET).length === 0 && startsAt(t + taken).length > 0;
      t += isLong ? taken : TRIPLET; // a rest takes on a length too
      to += TRIPLET;
      if (!isLong) taken = TRIPLET;
      continue;
    }
    const own = length[k] ?? 0;
    if (rows[k]?.midi === midi && (own === WHOLE || (own > TRIPLET && isTriplet(own)))) {
      phantoms.add(k);
      taken = isTriplet(own) ? own : (2 * own) / 3;
    } else {
      const real = own === taken ? TRIPLET : own;
      if (own === TRIPLET) taken = TRIPLET;
      const chord = t < steadyEnd ? [k] : here.filter((j) => length[j] === own);
      for (const j of chord) moved.set(j, { from: to, length: real });
      to += real;
      midi = rows[k]?.midi ?? 0;
    }
    t += own;
  }
  mendInnerTriplets(rows, at, length, moved, phantoms);
  return all
    .filter((k) => !phantoms.has(k))
    .map((k): Row => {
      const row = rows[k] as Row;
      const put = moved.get(k);
      return put === undefined ? row : { ...row, beat: put.from / A_QUARTER, beats: put.length / A_QUARTER };
    })
    .sort((a, b) => a.beat - b.beat);
}

/** How far voices in plain quarters, halves and sixteenths go on from beat 0, with rests of four bars at most. */
function endOfQuarters(at: readonly number[], length: readonly number[]): number {
  let end = 0;
  at.forEach((t, k) => {
    const own = length[k] ?? 0;
    if (t % 3 === 0 && own % 3 === 0 && t <= end + 4 * WHOLE) end = Math.max(end, t + own);
  });
  return end;
}

const TRIPLET_NOTES = 3;

/** The same within an inner voice that sounds for a beat now and then: a phantom, then one group of triplets, each pushed later by
 * all phantoms of this voice so far. Of notes that begin together the inner voice's stands last. */
function mendInnerTriplets(
  rows: readonly Row[],
  at: readonly number[],
  length: readonly number[],
  moved: Map<number, { from: number; length: number }>,
  phantoms: Set<number>,
): void {
  let late = 0;
  rows.forEach((_, first) => {
    if (moved.has(first) || phantoms.has(first) || length[first] !== (2 * WHOLE) / 3) return;
    phantoms.add(first);
    late += length[first] ?? 0;
    let t = (at[first] ?? 0) + (length[first] ?? 0);
    for (let n = 0; n < TRIPLET_NOTES; n++) {
      const k = at.lastIndexOf(t);
      if (k < 0 || moved.has(k)) return;
      moved.set(k, { from: t - late, length: TRIPLET });
      t += TRIPLET;
    }
  });
}
