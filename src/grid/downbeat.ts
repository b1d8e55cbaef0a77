import { mod } from "../base/numbers.js";

/** What sounds new on a beat. @property lowMidi lowest pitch, undefined when nothing is struck on the beat @property hits notes struck on the beat
 * @property chroma weight by pitch class of all notes of the beat, shape (12) */
export type BeatContent = { lowMidi: number | undefined; hits: number; chroma: Float64Array };

export type Downbeat = { phase: number; margin: number };

/** Weights of what marks a bar's first beat. Common practice, no published source for the numbers; set by hand on the named studies. */
const DOWNBEAT_DEFAULTS = Object.freeze({ change: 6, bass: 1.2, hits: 0.25 });

function distance(a: Float64Array, b: Float64Array): number {
  let dot = 0;
  let aa = 1e-9;
  let bb = 1e-9;
  for (let k = 0; k < 12; k++) {
    const x = a[k] as number;
    const y = b[k] as number;
    dot += x * y;
    aa += x * x;
    bb += y * y;
  }
  return 1 - dot / Math.sqrt(aa * bb);
}

/** How well each phase (beats before the first bar line) explains the music: chords change, basses and fuller hits come on beat 1.
 * @returns score by phase 0…beatsPerBar − 1, in nats or so, growing slowly with the number of bars */
export function downbeatScores(content: readonly BeatContent[], beatsPerBar: number): number[] {
  const n = content.length;
  const sumChroma = (from: number, to: number): Float64Array => {
    const out = new Float64Array(12);
    for (let b = Math.max(0, from); b < Math.min(n, to); b++) {
      const chroma = content[b]?.chroma;
      if (chroma !== undefined)
        for (let k = 0; k < 12; k++) out[k] = (out[k] as number) + (chroma[k] as number);
    }
    return out;
  };
  const lows = content.flatMap((c) => (c.lowMidi === undefined ? [] : [c.lowMidi])).sort((a, b) => a - b);
  const middle = lows[lows.length >> 1] ?? 50;
  const reach = beatsPerBar;
  const marks = content.map((c, b) => {
    const change = b === 0 || b >= n ? 0 : distance(sumChroma(b - reach, b), sumChroma(b, b + reach));
    const bass = c.lowMidi === undefined ? -1 : Math.max(-1, Math.min(1, (middle + 2 - c.lowMidi) / 6));
    return (
      DOWNBEAT_DEFAULTS.change * change +
      DOWNBEAT_DEFAULTS.bass * bass +
      DOWNBEAT_DEFAULTS.hits * Math.min(4, c.hits)
    );
  });
  return Array.from({ length: beatsPerBar }, (_, phase) => {
    let sum = 0;
    let count = 0;
    marks.forEach((mark, b) => {
      if (mod(b - phase, beatsPerBar) === 0) {
        sum += mark;
        count++;
      }
    });
    return count === 0 ? -9 : (sum / count) * Math.sqrt(Math.min(count, 16));
  });
}

/** The phase that scores best with its prior. @param priors nats by phase */
export function chooseDownbeat(
  content: readonly BeatContent[],
  beatsPerBar: number,
  priors: readonly number[],
): Downbeat {
  const scores = downbeatScores(content, beatsPerBar).map((s, phase) => s + (priors[phase] ?? -6));
  let phase = 0;
  scores.forEach((s, k) => {
    if (s > (scores[phase] as number) + 1e-9) phase = k;
  });
  const rest = scores.filter((_, k) => k !== phase);
  const second = rest.length === 0 ? (scores[phase] as number) - 9 : Math.max(...rest);
  return { phase, margin: (scores[phase] as number) - second };
}
