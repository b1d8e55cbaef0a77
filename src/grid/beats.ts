// The grid of a take: where every beat is, and bar 1 beat 1.
// In: a Listening, what the user says (tempo, meter, start, count-in, feel), times of unpitched attacks.
// Out: Grid. Method: notes are gathered into events; the count-in is skipped (start.ts); a Viterbi follows the beat
// (track.ts); the events are put on steps (steps.ts) and a smooth tempo curve is laid through them (smooth.ts); the feel
// is read from the off-beats (swing.ts), the first bar line from basses and chord changes (downbeat.ts). Without a
// tempo, tempo.ts proposes readings. Sources: in those files. Cannot do: free time; see findings.ts.

import { PulgarError } from "../base/errors.js";
import { clamp, median, roundTo, sigmoid } from "../base/numbers.js";
import { TICKS_PER_BEAT } from "../base/ticks.js";
import type { Listening, PlayedNote } from "../notes/played-note.js";
import { bestTrack, feelModels } from "./best-track.js";
import { beatIdxAt, beatLenSec, rawPosition, swung, unswing } from "./clock.js";
import { type BeatContent, chooseDownbeat } from "./downbeat.js";
import { gatherEvents, type HitEvent } from "./events.js";
import type { Grid, GridReading, Meter } from "./grid.js";
import {
  likeAcross,
  nextPause,
  PAUSE_DEFAULTS,
  type Pause,
  pausesBack,
  withoutDrawn,
  withoutPause,
} from "./pauses.js";
import { smoothBeats } from "./smooth.js";
import { findStart } from "./start.js";
import { chooseSteps, divisionsFor } from "./steps.js";
import { decideFeel, type Feel } from "./swing.js";
import { estimateTempo } from "./tempo.js";
import type { StartGuess } from "./track.js";

export type GridOptions = {
  tempoBpm?: number | undefined;
  meter?: Meter | undefined;
  startSec?: number | undefined;
  countInBeats?: number | undefined;
  feel?: "straight" | "swing" | undefined;
  gridDivision?: 8 | 12 | 16 | undefined;
  clicks?: readonly number[] | undefined;
};

const GRID_DEFAULTS = Object.freeze({
  lowestBpm: 20,
  highestBpm: 400,
  mostBeats: 24, // a bar; longer is a slip of the keyboard
  firstBeatPrior: 5, // nats: a take that begins on a beat begins with bar 1 beat 1 unless much speaks against it
  countedPrior: 4, // nats: a count-in fills whole bars, or the bar that a pick-up completes
  trendBeats: 8, // beats whose pace and trend go on past the last event
  trendTrust: 0.8,
  // A take begins on a beat; where else it may, as shares of one, and the price in nats.
  offBeatStarts: [
    [1 / 2, 6],
    [1 / 4, 12],
    [3 / 4, 12],
    [1 / 3, 12],
    [2 / 3, 12],
    [1 / 6, 13],
    [5 / 6, 13],
  ] as const,
});

/** Finds the grid.
 * @throws PulgarError "bad-tempo", "bad-meter" for values no player means, "no-notes" when nothing was heard */
export function findGrid(listening: Listening, options: GridOptions = {}): Grid {
  checkOptions(options);
  const { notes } = listening;
  if (notes.length === 0)
    throw new PulgarError(
      "no-notes",
      "no note was heard in the take",
      "Check the level and that it is the right file.",
    );
  const given = options.tempoBpm !== undefined;
  const readings: GridReading[] = given ? [] : estimateTempo(notes, options);
  const best = readings[0];
  const meter = options.meter ?? best?.meter ?? { beats: 4, unit: 4 };
  const tempoBpm = options.tempoBpm ?? best?.tempoBpm ?? 90;
  const grid = gridAt(notes, tempoBpm, meter, options);
  const sure = given && (options.startSec !== undefined || options.countInBeats !== undefined);
  const base = given ? 1 : (best?.confidence ?? 0);
  return {
    ...grid,
    tempoFrom: given ? "user" : "estimated",
    confidence: roundTo(sure ? 1 : base * grid.confidence, 3),
    readings,
  };
}

function checkOptions({ tempoBpm, meter }: GridOptions): void {
  const { lowestBpm, highestBpm, mostBeats } = GRID_DEFAULTS;
  if (tempoBpm !== undefined && !(tempoBpm >= lowestBpm && tempoBpm <= highestBpm))
    throw new PulgarError(
      "bad-tempo",
      `tempo ${tempoBpm}: want ${lowestBpm} to ${highestBpm} beats a minute`,
      "The tempo counts the meter's lower number: eighths in 6/8.",
    );
  if (meter === undefined) return;
  const { beats, unit } = meter;
  if (!(Number.isInteger(beats) && beats >= 1 && beats <= mostBeats && [1, 2, 4, 8, 16].includes(unit)))
    throw new PulgarError(
      "bad-meter",
      `meter ${beats}/${unit}: want such as 4/4, 3/4 or 6/8`,
      "Say --meter 4/4.",
    );
}

/** The closest that two written steps come, seconds: sixteenth triplets of a quarter beat, sixteenths of an eighth beat. */
export const closestStepSec = (periodSec: number, unit: number): number =>
  clamp(periodSec / (unit >= 8 ? 2 : 6), 0.08, 0.2);

/** The grid at a tempo and meter taken for right. */
function gridAt(notes: readonly PlayedNote[], tempoBpm: number, meter: Meter, options: GridOptions): Grid {
  const periodSec = 60 / tempoBpm;
  const allEvents = gatherEvents(notes, closestStepSec(periodSec, meter.unit));
  const start = findStart(allEvents, notes, {
    periodSec,
    meter,
    attackSec: options.clicks ?? [],
    countInBeats: options.countInBeats,
  });
  let events = allEvents.slice(start.firstIdx);
  let starts: StartGuess[];
  const firstSec = (events[0] as HitEvent).sec;
  if (options.startSec !== undefined) {
    const from = options.startSec - 0.12 * periodSec;
    const kept = allEvents.filter((e) => e.sec >= from);
    if (kept.length === 0)
      throw new PulgarError(
        "no-notes",
        `no note after the start at ${roundTo(options.startSec, 3)} s`,
        options.startSec > 1000
          ? "Was the start given in samples? It is in seconds."
          : "Give an earlier start.",
      );
    events = kept;
    const near = kept.find((e) => Math.abs(e.sec - (options.startSec as number)) < 0.12 * periodSec);
    starts = [{ sec: near?.sec ?? options.startSec, cost: 0 }];
  } else if (start.beatAtSec !== undefined) starts = [{ sec: start.beatAtSec, cost: 0 }];
  else
    starts = [
      { sec: firstSec, cost: 0 },
      ...GRID_DEFAULTS.offBeatStarts.map(([share, cost]) => ({ sec: firstSec - share * periodSec, cost })),
    ];
  const models = feelModels(meter.unit, options.feel);
  let track = bestTrack(events, periodSec, models, starts);
  // From here on time runs as if the player had never stopped; it is put back at the end.
  const pauses: Pause[] = [];
  let knownSec = 0;
  while (track.drawn.length > 0 && pauses.length < PAUSE_DEFAULTS.most) {
    let lostSec = 0;
    for (const { beat, usualSec } of track.drawn.slice(0, PAUSE_DEFAULTS.most - pauses.length)) {
      const fromSec = (track.beatSec[beat] as number) - lostSec;
      const toSec = (track.beatSec[beat + 1] as number) - lostSec;
      pauses.push({ fromSec: toSec, sec: toSec - fromSec - usualSec });
      lostSec += toSec - fromSec - usualSec;
      events = withoutDrawn(events, { fromSec, toSec, usualSec });
    }
    track = bestTrack(events, periodSec, models, starts);
  }
  for (let tries = 0; tries < PAUSE_DEFAULTS.tries && pauses.length < PAUSE_DEFAULTS.most; tries++) {
    const pause = nextPause(events, track.beatSec, meter.beats, knownSec);
    if (pause === undefined) break;
    const closed = withoutPause(events, pause);
    const again = bestTrack(closed, periodSec, models, starts);
    const was = likeAcross(events, track.beatSec, meter.beats, pause.fromSec);
    const is = likeAcross(closed, again.beatSec, meter.beats, pause.fromSec - pause.sec);
    knownSec = pause.fromSec;
    if (is < was + PAUSE_DEFAULTS.betterWhole) continue;
    pauses.push(pause);
    knownSec -= pause.sec;
    events = closed;
    track = again;
  }
  let beatSec = track.beatSec;
  if (beatSec.length < 2) beatSec = [firstSec, firstSec + periodSec];
  let feel: Feel = { feel: "straight", swingRatio: 1 };
  // Two rounds: the curve sharpens the steps, the steps sharpen the curve.
  for (let round = 0; round < 2; round++) {
    const raw = events.map((e) => rawPosition(beatSec, e.sec));
    feel = feelOf(raw, meter.unit, options.feel);
    beatSec = curveThrough(events, raw, beatSec, meter, feel, options.gridDivision);
  }
  const content = beatContents(events, notes, beatSec, feel);
  const { phase, margin } =
    options.startSec !== undefined
      ? { phase: 0, margin: 9 }
      : chooseDownbeat(content, meter.beats, priorsFor(content, meter, start.countInBeats, options));
  const bars = Math.max(1, Math.ceil((content.length - phase) / meter.beats));
  const wanted = phase + bars * meter.beats + 1;
  const beats = [...beatSec];
  extend(beats, wanted, lastHitBeat(events, beatSec));
  const ownBeats = pausesBack(beats.slice(phase, wanted), pauses, 0.25 * periodSec);
  const spanSec = (beatSec.at(-1) as number) - (beatSec[0] as number);
  const lengths = beatSec.slice(1).map((b, k) => b - (beatSec[k] as number));
  const steady = median(lengths) ?? periodSec;
  const meanSec = beatSec.length > 8 ? spanSec / (beatSec.length - 1) : steady;
  return {
    beatSec: ownBeats.map((b) => roundTo(b, 4)),
    meter,
    tempoBpm: roundTo(60 / (Math.abs(meanSec - steady) > 0.04 * steady ? steady : meanSec), 2),
    tempoFrom: "user",
    ...feel,
    barCount: bars,
    pickupBeats: phase,
    countInBeats: start.countInBeats,
    confidence: clamp(sigmoid(margin) * clamp((track.fit + 1.5) / 2, 0.05, 1), 0, 1),
    readings: [],
  };
}

/** The last beat that an event pins, by index. */
function lastHitBeat(events: readonly HitEvent[], beatSec: readonly number[]): number {
  const last = events.at(-1);
  return last === undefined ? 0 : Math.max(1, Math.round(rawPosition(beatSec, last.sec)));
}

/** Beats past the last event, to the end of its bar: the pace goes on as it last did, and its trend with it. */
function extend(beats: number[], wanted: number, pinnedIdx: number): void {
  const from = Math.min(pinnedIdx, beats.length - 1);
  beats.length = from + 1;
  const lengths = beats.slice(1).map((b, k) => b - (beats[k] as number));
  const recent = lengths.slice(-GRID_DEFAULTS.trendBeats);
  const usual = median(recent) ?? 0.5;
  const steady = recent.filter((l) => Math.abs(l / usual - 1) < 0.15);
  const mid = (steady.length - 1) / 2;
  const mean = steady.reduce((s, l) => s + l, 0) / Math.max(1, steady.length);
  const spread = steady.reduce((s, _, k) => s + (k - mid) ** 2, 0);
  const slope = spread > 0 ? steady.reduce((s, l, k) => s + (k - mid) * (l - mean), 0) / spread : 0;
  const bend = steady.length >= 6 ? clamp(slope, -0.012 * mean, 0.012 * mean) : 0;
  for (let k = 1; beats.length < wanted; k++)
    beats.push((beats.at(-1) as number) + mean + bend * (mid + k) * GRID_DEFAULTS.trendTrust);
}

function feelOf(raw: readonly number[], unit: number, asked: "straight" | "swing" | undefined): Feel {
  if (asked === "straight") return { feel: "straight", swingRatio: 1 };
  const found = decideFeel(
    raw.map((u) => u - Math.floor(u)),
    unit,
  );
  if (asked === "swing" && found.feel === "straight") {
    const off = raw.map((u) => u - Math.floor(u)).filter((s) => s > 0.45 && s < 0.8);
    const middle = median(off) ?? 2 / 3;
    return { feel: "swing", swingRatio: clamp(middle / (1 - middle), 1.1, 3) };
  }
  return found;
}

/** Lays the tempo curve through the events on their steps. */
function curveThrough(
  events: readonly HitEvent[],
  raw: readonly number[],
  beatSec: readonly number[],
  meter: Meter,
  feel: Feel,
  gridDivision: 8 | 12 | 16 | undefined,
): number[] {
  const positions = raw.map((u) => unswing(u, feel.swingRatio));
  const ticks = chooseSteps({
    positions,
    beatLenSec: events.map((e) => beatLenSec(beatSec, beatIdxAt(beatSec, e.sec))),
    beatsPerBar: meter.beats,
    divisions: divisionsFor(meter.unit, gridDivision),
  });
  const pinned = events.flatMap((e, k) => {
    const tick = ticks[k] as number;
    const beat = Math.floor(tick / TICKS_PER_BEAT);
    const share = tick / TICKS_PER_BEAT - beat;
    const position = swung(tick / TICKS_PER_BEAT, feel.swingRatio);
    // A prolonged beat holds a pause: its off-beats say nothing of the next beat.
    const length = (beatSec[beat + 1] ?? 0) - (beatSec[beat] ?? 0);
    const paused = beat + 1 < beatSec.length && length > 1.7 * beatLenSec(beatSec, beat);
    if (paused && share > 0) return [];
    return [{ sec: e.sec, beat: position, weight: Math.max(0.1, e.weight) * (share === 0 ? 1 : 0.7) }];
  });
  return smoothBeats(beatSec, pinned);
}

/** What each beat holds, from the first tracked beat on. */
function beatContents(
  events: readonly HitEvent[],
  notes: readonly PlayedNote[],
  beatSec: readonly number[],
  feel: Feel,
): BeatContent[] {
  const content: { lowMidi: number | undefined; hits: number; chroma: Float64Array }[] = [];
  for (const e of events) {
    const u = unswing(rawPosition(beatSec, e.sec), feel.swingRatio);
    const beat = Math.max(0, Math.floor(u + 0.12));
    while (content.length <= beat)
      content.push({ lowMidi: undefined, hits: 0, chroma: new Float64Array(12) });
    const at = content[beat] as { lowMidi: number | undefined; hits: number; chroma: Float64Array };
    if (u - beat < 0.12) {
      at.lowMidi = Math.min(at.lowMidi ?? 127, e.lowMidi);
      at.hits += e.noteIdxs.length;
    }
    for (const idx of e.noteIdxs) {
      const n = notes[idx] as PlayedNote;
      const pc = ((n.midi % 12) + 12) % 12;
      at.chroma[pc] = (at.chroma[pc] as number) + n.confidence;
    }
  }
  return content;
}

/** What speaks for each number of pick-up beats before the music is asked. */
function priorsFor(
  content: readonly BeatContent[],
  meter: Meter,
  countInBeats: number,
  options: GridOptions,
): number[] {
  const lows = content.flatMap((c) => (c.lowMidi === undefined ? [] : [c.lowMidi])).sort((a, b) => a - b);
  const bassBelow = (lows[lows.length >> 2] ?? 45) + 4;
  return Array.from({ length: meter.beats }, (_, phase) => {
    let prior = phase === 0 && content[0]?.lowMidi !== undefined ? GRID_DEFAULTS.firstBeatPrior : 0;
    // A pick-up is upper voices only; bar 1 then opens with a bass.
    const before = content.slice(0, phase);
    if (phase > 0 && before.some((c) => c.lowMidi !== undefined && c.lowMidi <= bassBelow)) prior -= 4;
    const opens = content[phase]?.lowMidi;
    if (opens !== undefined && opens <= bassBelow) prior += 3;
    if (countInBeats > 0 && options.countInBeats === undefined) {
      const fills = (countInBeats + phase) % meter.beats === 0;
      prior += fills ? GRID_DEFAULTS.countedPrior : -1;
    }
    if (options.countInBeats !== undefined && options.countInBeats > 0 && phase === 0) prior += 6;
    return prior;
  });
}
