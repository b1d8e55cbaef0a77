/** A backing track in the study's form and tempo, from its chord line.
 * In: a sheet. Out: two channels at −16 LUFS, true peak under −1 dB. Bass, plucked chords and a brush-like pulse, all by own synthesis.
 * The player's beats are followed where the sheet has them. With `heldBass` one low tonic lies under everything instead of the chords' own bass.
 * Cannot: a melody, fills, a change of meter. */
import { PulgarError } from "../base/errors.js";
import { mod } from "../base/numbers.js";
import { beatToSec, type PlayedBar, playedBars } from "../base/playback.js";
import type { Sheet, SheetChord } from "../sheet/sheet.js";
import { pitchClassOf } from "../theory/pitch.js";
import { addBody } from "./body.js";
import { chordTones, voicing } from "./chord-tones.js";
import { addClicks, countIn } from "./click.js";
import { toTarget } from "./loudness.js";
import { type MixTracks, mixDown } from "./mix.js";
import { addPluck } from "./pluck.js";

/** @property heldBass a drone on the tonic instead of the chords' bass @property countInBeats clicks before the first bar
 * @property percent of the tempo, 25…200 @property rounds how often the form is played
 * @property mix another mixer, with the same meaning as `mixDown` */
export type BackingOptions = {
  sampleRateHz: number;
  heldBass?: boolean;
  countInBeats?: number;
  percent?: number;
  rounds?: number;
  mix?: MixTracks;
};

export type BackingTrack = { left: Float32Array; right: Float32Array; startSec: number };

const TAIL_SEC = 2;

/** Gains of the mix. With bass and chords even, half of all energy lay under 120 Hz, which small speakers do not give: the chords lead, the
 * brush (2 to 8 kHz) lies about 20 dB under them. By spectrum, on three studies. */
const MIX = Object.freeze({ bass: 0.65, chords: 1, brush: 0.9, count: 1 });

/** A chord with its place in the played line, in beats. */
type Span = { chord: SheetChord; startBeat: number; endBeat: number };

/** @throws PulgarError "bad-sheet" when no chord is written */
export async function backingTrack(sheet: Sheet, options: BackingOptions): Promise<BackingTrack> {
  const { sampleRateHz } = options;
  if (sheet.chords.every((c) => chordTones(c.symbol).length === 0))
    throw new PulgarError(
      "bad-sheet",
      "the sheet has no chords, so there is nothing to accompany",
      "Write chord names over the bars, or draft the sheet again.",
    );
  const slow = 100 / (options.percent ?? 100);
  const once = playedBars(sheet.grid, sheet.repeats);
  const bars = manyRounds(once, options.rounds ?? 1).map((bar) => ({
    ...bar,
    beatSec: bar.beatSec.map((s) => s * slow),
  }));
  const first = bars[0];
  const beatLenSec = first ? (first.beatSec[1] ?? 0) - (first.beatSec[0] ?? 0) : 60 / sheet.grid.tempoBpm;
  const countBeats = options.countInBeats ?? 0;
  const startSec = countBeats * beatLenSec;
  const endSec = bars.at(-1)?.beatSec.at(-1) ?? 0;
  const len = Math.ceil((startSec + endSec + TAIL_SEC) * sampleRateHz);
  const spans = chordSpans(sheet, bars);
  const at = (beat: number): number => startSec + beatToSec(bars, beat);

  const bass = new Float32Array(len);
  const chords = new Float32Array(len);
  const brush = new Float32Array(len);
  const line = new Float32Array(Math.ceil(sampleRateHz / 20));
  addBass(bass, sheet, spans, bars, at, options, line);
  addChords(chords, sheet, spans, bars, at, sampleRateHz, line);
  addBrush(brush, sheet, bars, at, sampleRateHz);
  addBody(chords, sampleRateHz);
  const count = new Float32Array(len);
  addClicks(count, sampleRateHz, countIn(startSec, beatLenSec, countBeats, sheet.grid.meter.beats), 0.3);

  const mix = options.mix ?? mixDown;
  const [left, right] = await mix(
    [
      { samples: bass, gain: MIX.bass, pan: 0 },
      { samples: chords, gain: MIX.chords, pan: -0.28 },
      { samples: brush, gain: MIX.brush, pan: 0.32 },
      { samples: count, gain: MIX.count, pan: 0 },
    ],
    sampleRateHz,
  );
  toTarget([left, right], sampleRateHz);
  return { left, right, startSec };
}

function manyRounds(once: readonly PlayedBar[], rounds: number): PlayedBar[] {
  const bars: PlayedBar[] = [];
  const body = once.filter((bar) => bar.bar !== 0); // a pick-up is played once
  for (let round = 0; round < rounds; round++) {
    for (const bar of round === 0 ? once : body) {
      const before = bars.at(-1);
      const startBeat = before ? before.startBeat + before.beats : 0;
      const shift = (before?.beatSec.at(-1) ?? 0) - (bar.beatSec[0] ?? 0);
      bars.push({ ...bar, startBeat, beatSec: bar.beatSec.map((s) => s + shift) });
    }
  }
  return bars;
}

/** The chord line over the played bars; a bar without a chord goes on with the one before it. */
function chordSpans(sheet: Sheet, bars: readonly PlayedBar[]): Span[] {
  const sorted = [...sheet.chords].sort((a, b) => a.bar - b.bar || a.beat - b.beat);
  const spans: Span[] = [];
  for (const bar of bars) {
    const inBar = sorted.filter((c) => c.bar === bar.bar);
    const carried = sorted.filter((c) => c.bar < bar.bar).at(-1);
    const opening = inBar[0];
    if (carried && (!opening || opening.beat > 1.01))
      spans.push({ chord: carried, startBeat: bar.startBeat, endBeat: 0 });
    for (const chord of inBar) spans.push({ chord, startBeat: bar.startBeat + chord.beat - 1, endBeat: 0 });
  }
  const last = bars.at(-1);
  const end = last ? last.startBeat + last.beats : 0;
  for (const [idx, span] of spans.entries()) span.endBeat = spans[idx + 1]?.startBeat ?? end;
  return spans.filter((s) => s.endBeat > s.startBeat);
}

/** Lowest bass note: low E, or what the guitar's sixth string is tuned to. */
const bassMidi = (pc: number, lowest: number): number => lowest + mod(pc - lowest, 12);

function addBass(
  out: Float32Array,
  sheet: Sheet,
  spans: readonly Span[],
  bars: readonly PlayedBar[],
  at: (beat: number) => number,
  options: BackingOptions,
  line: Float32Array,
): void {
  const { sampleRateHz } = options;
  const lowest = Math.min(40, ...sheet.openMidi);
  const pluck = (pc: number, fromBeat: number, toBeat: number, loudness: number, seed: number): void => {
    const midi = bassMidi(pc, lowest);
    addPluck(
      out,
      sampleRateHz,
      {
        freqHz: 440 * 2 ** ((midi - 69) / 12),
        startIdx: Math.round(at(fromBeat) * sampleRateHz),
        holdSec: Math.max(0.1, at(toBeat) - at(fromBeat) - 0.02),
        loudness,
        brightness: 0.1,
        pluckShare: 0.28,
        t60Sec: 9,
        seed,
      },
      line,
    );
  };
  if (options.heldBass) {
    const firstChord = spans[0]?.chord;
    const tonic = pitchClassOf(sheet.mode?.tonic ?? firstChord?.root ?? "C") ?? 0;
    for (const [idx, bar] of bars.entries())
      pluck(tonic, bar.startBeat, bar.startBeat + bar.beats, 0.9, 900 + idx);
    return;
  }
  for (const [idx, span] of spans.entries()) {
    const pc = pitchClassOf(span.chord.bass) ?? chordTones(span.chord.symbol)[0];
    if (pc === undefined) continue;
    // A note at the chord and one at each half of a long bar keeps the floor without a melody of its own.
    const step = Math.max(
      1,
      sheet.grid.meter.beats % 2 === 0 ? sheet.grid.meter.beats / 2 : sheet.grid.meter.beats,
    );
    for (let beat = span.startBeat; beat < span.endBeat - 0.01; beat += step)
      pluck(pc, beat, Math.min(span.endBeat, beat + step), beat === span.startBeat ? 0.9 : 0.7, 900 + idx);
  }
}

function addChords(
  out: Float32Array,
  sheet: Sheet,
  spans: readonly Span[],
  bars: readonly PlayedBar[],
  at: (beat: number) => number,
  sampleRateHz: number,
  line: Float32Array,
): void {
  const compound = sheet.grid.meter.unit >= 8 && sheet.grid.meter.beats % 3 === 0;
  const step = compound ? 3 : 1;
  let previous: number[] = [];
  let seed = 1;
  for (const span of spans) {
    const notes = voicing(span.chord.symbol, previous);
    if (notes.length === 0) continue;
    previous = notes;
    for (let beat = span.startBeat; beat < span.endBeat - 0.01; beat += step) {
      const bar = bars.find((b) => beat >= b.startBeat - 1e-6 && beat < b.startBeat + b.beats - 1e-6);
      const inBar = bar ? Math.round((beat - bar.startBeat) / step) : 0;
      const loudness = inBar === 0 ? 0.42 : inBar % 2 === 0 ? 0.36 : 0.3;
      const until = Math.min(span.endBeat, beat + step);
      for (const [idx, midi] of notes.entries()) {
        addPluck(
          out,
          sampleRateHz,
          {
            freqHz: 440 * 2 ** ((midi - 69) / 12),
            startIdx: Math.round((at(beat) + idx * 0.014) * sampleRateHz), // rolled, as a thumb goes over strings
            holdSec: Math.max(0.1, (at(until) - at(beat)) * 0.92),
            loudness,
            brightness: 0.3,
            pluckShare: 0.2,
            t60Sec: 3,
            seed: seed++,
          },
          line,
        );
      }
    }
  }
}

/** A brush on a drum head: shaped noise on every beat, a longer sweep on the off-beats of 2 and 4. */
function addBrush(
  out: Float32Array,
  sheet: Sheet,
  bars: readonly PlayedBar[],
  at: (beat: number) => number,
  sampleRateHz: number,
): void {
  let state = 20011;
  const random = (): number => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2147483648 - 1;
  };
  const stroke = (sec: number, lenSec: number, loudness: number): void => {
    const startIdx = Math.round(sec * sampleRateHz);
    const len = Math.round(lenSec * sampleRateHz);
    let low = 0;
    let high = 0;
    for (let idx = 0; idx < len; idx++) {
      const x = random();
      low += 0.45 * (x - low);
      high += 0.06 * (low - high);
      const share = idx / len;
      const envelope = Math.min(1, share * 12) * (1 - share) ** 2.2;
      const to = startIdx + idx;
      if (to < out.length) out[to] = out[to]! + (low - high) * envelope * loudness;
    }
  };
  const compound = sheet.grid.meter.unit >= 8 && sheet.grid.meter.beats % 3 === 0;
  for (const bar of bars)
    for (let beat = 0; beat + 0.5 < bar.beats; beat++) {
      const strong = compound ? beat % 6 === 3 : sheet.grid.meter.beats === 3 ? beat > 0 : beat % 2 === 1;
      const quiet = compound && beat % 3 !== 0;
      const sec = at(bar.startBeat + beat);
      stroke(sec, strong ? 0.19 : 0.1, strong ? 0.34 : quiet ? 0.1 : 0.18);
    }
}
