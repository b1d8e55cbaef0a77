/** The sheet in playing order: repeats unrolled, ties joined, beats on the player's pulse.
 * In: any notes with bar, tick and length (24 ticks a beat), the grid's numbers, repeats. Out: bars with the time of each beat, notes in beats and seconds.
 * A tool for exports and practice sound, which both need the same clock. Swing: an eighth off the beat comes at ratio/(1 + ratio) of the beat;
 * beats divided in three stay even (common practice, no published source). */

/** The numbers of a grid that playing needs; a SheetGrid fits. */
export type PlaybackGrid = {
  tempoBpm: number;
  meter: { beats: number; unit: number };
  feel: "straight" | "swing";
  swingRatio: number;
  beatSec: readonly number[];
  barCount: number;
  pickupBeats: number;
};

/** A written repeat; a sheet's Repeat fits. */
export type PlaybackRepeat = {
  fromBar: number;
  toBar: number;
  times: number;
  endings: readonly { times: readonly number[]; bars: readonly number[] }[];
};

/** A bar as it is played. beatSec: times of its beats and of its end, from the start of the first played bar; startBeat: beats before it. */
export type PlayedBar = { bar: number; startBeat: number; beats: number; beatSec: number[] };

/** A note as it is plucked: beats and seconds from the start of the first played bar; `barIdx` into the played bars. */
export type PlayedEvent<N> = {
  note: N;
  barIdx: number;
  startBeat: number;
  endBeat: number;
  startSec: number;
  endSec: number;
};

type WrittenNote = {
  bar: number;
  tick: number;
  lengthTicks: number;
  string: number;
  fret: number;
  marks: readonly string[];
};

const BEAT_TICKS = 24;
/** A grace note takes this share of a beat from before its main note; about 60 ms at 120 a minute, from memory of common playing. */
const GRACE_BEATS = 0.12;

/** Bar numbers in the order they are played. Repeats that overlap an earlier one are played once. */
export function playOrder(
  barCount: number,
  hasPickup: boolean,
  repeats: readonly PlaybackRepeat[],
): number[] {
  const order: number[] = hasPickup ? [0] : [];
  const sorted = [...repeats].sort((a, b) => a.fromBar - b.fromBar || a.toBar - b.toBar);
  let bar = 1;
  while (bar <= barCount) {
    const repeat = sorted.find((r) => r.fromBar === bar && r.toBar >= bar && r.times > 1);
    if (!repeat) {
      order.push(bar++);
      continue;
    }
    const endingBars = new Set(repeat.endings.flatMap((e) => [...e.bars]));
    const lastBar = Math.min(barCount, Math.max(repeat.toBar, ...endingBars));
    for (let pass = 1; pass <= repeat.times; pass++) {
      for (let b = repeat.fromBar; b <= lastBar; b++)
        if (!endingBars.has(b) || repeat.endings.some((e) => e.times.includes(pass) && e.bars.includes(b)))
          order.push(b);
    }
    bar = lastBar + 1;
  }
  return order;
}

/** The played bars with their beats in time. Where `beatSec` covers a bar its own beats are kept; elsewhere the tempo is steady. */
export function playedBars(grid: PlaybackGrid, repeats: readonly PlaybackRepeat[]): PlayedBar[] {
  const steadySec = 60 / grid.tempoBpm;
  const bars: PlayedBar[] = [];
  let startBeat = 0;
  let sec = 0;
  for (const bar of playOrder(grid.barCount, grid.pickupBeats > 0, repeats)) {
    const beats = bar === 0 ? grid.pickupBeats : grid.meter.beats;
    const beatSec = [sec];
    for (let done = 0; done < beats; done++) {
      const share = Math.min(1, beats - done);
      const idx = (bar - 1) * grid.meter.beats + done;
      const from = bar >= 1 ? grid.beatSec[idx] : undefined;
      const to = bar >= 1 ? grid.beatSec[idx + 1] : undefined;
      sec += share * (from !== undefined && to !== undefined && to > from ? to - from : steadySec);
      beatSec.push(sec);
    }
    bars.push({ bar, startBeat, beats, beatSec });
    startBeat += beats;
  }
  return bars;
}

/** Beats from the bar's start of a written tick, swing applied; ticks past the bar's end run on. */
export function tickToBeat(tick: number, grid: Pick<PlaybackGrid, "feel" | "swingRatio">): number {
  if (grid.feel !== "swing" || tick % 3 !== 0) return tick / BEAT_TICKS;
  const beat = Math.floor(tick / BEAT_TICKS);
  const within = (tick - beat * BEAT_TICKS) / BEAT_TICKS;
  const long = grid.swingRatio / (1 + grid.swingRatio);
  return beat + (within <= 0.5 ? within * 2 * long : long + (within - 0.5) * 2 * (1 - long));
}

/** Seconds of a beat of the timeline; after the end the last beat's length runs on. */
export function beatToSec(bars: readonly PlayedBar[], beat: number): number {
  let low = 0;
  let high = bars.length - 1;
  while (low < high) {
    const mid = (low + high + 1) >> 1;
    if ((bars[mid]?.startBeat ?? 0) <= beat) low = mid;
    else high = mid - 1;
  }
  const bar = bars[low];
  if (!bar) return 0;
  const within = beat - bar.startBeat;
  const idx = Math.max(0, Math.min(bar.beatSec.length - 2, Math.floor(within)));
  const from = bar.beatSec[idx] ?? 0;
  const to = bar.beatSec[idx + 1] ?? from;
  const share = Math.min(1, bar.beats - idx);
  return from + ((within - idx) / share) * (to - from);
}

/** Every pluck in playing order: ties joined to the note they continue, a string cut where it is plucked again. */
export function playedEvents<N extends WrittenNote>(
  notes: readonly N[],
  grid: PlaybackGrid,
  bars: readonly PlayedBar[],
): PlayedEvent<N>[] {
  const byBar = new Map<number, N[]>();
  for (const note of notes) {
    const list = byBar.get(note.bar);
    if (list) list.push(note);
    else byBar.set(note.bar, [note]);
  }
  const events: PlayedEvent<N>[] = [];
  const lastOnString = new Map<number, PlayedEvent<N>>();
  for (const [barIdx, bar] of bars.entries()) {
    const inBar = [...(byBar.get(bar.bar) ?? [])].sort(
      (a, b) => a.tick - b.tick || graceFirst(a) - graceFirst(b) || b.string - a.string,
    );
    for (const note of inBar) {
      const isGrace = note.marks.includes("grace");
      const mainBeat = bar.startBeat + tickToBeat(note.tick, grid);
      const startBeat = isGrace ? Math.max(0, mainBeat - GRACE_BEATS) : mainBeat;
      const endBeat = isGrace ? mainBeat : bar.startBeat + tickToBeat(note.tick + note.lengthTicks, grid);
      const before = lastOnString.get(note.string);
      if (before && note.marks.includes("tie") && before.note.fret === note.fret) {
        before.endBeat = endBeat;
        continue;
      }
      if (before && before.endBeat > startBeat) before.endBeat = startBeat;
      const event = { note, barIdx, startBeat, endBeat, startSec: 0, endSec: 0 };
      lastOnString.set(note.string, event);
      events.push(event);
    }
  }
  for (const event of events) {
    event.startSec = beatToSec(bars, event.startBeat);
    event.endSec = beatToSec(bars, event.endBeat);
  }
  return events.sort((a, b) => a.startBeat - b.startBeat || b.note.string - a.note.string);
}

const graceFirst = (note: WrittenNote): number => (note.marks.includes("grace") ? 0 : 1);
