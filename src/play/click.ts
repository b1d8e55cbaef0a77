/** Clicks on beats, and a count-in before the first. A click is a short wooden knock: a dying sine, higher on the first beat of a bar. */

/** A click at a time from the start of the track. */
export type Click = { sec: number; accent: boolean };

const KNOCK_SEC = 0.045;
const ACCENT_HZ = 1760;
const PLAIN_HZ = 1175;

/** Adds clicks into `out`. @param gain 0…1, peak of an accented click */
export function addClicks(
  out: Float32Array,
  sampleRateHz: number,
  clicks: readonly Click[],
  gain: number,
): void {
  const len = Math.round(KNOCK_SEC * sampleRateHz);
  for (const { sec, accent } of clicks) {
    const startIdx = Math.round(sec * sampleRateHz);
    const omega = (2 * Math.PI * (accent ? ACCENT_HZ : PLAIN_HZ)) / sampleRateHz;
    const level = gain * (accent ? 1 : 0.7);
    for (let idx = 0; idx < len; idx++) {
      const at = startIdx + idx;
      if (at < 0 || at >= out.length) continue;
      const envelope = Math.exp((-7 * idx) / len) * Math.min(1, idx / (0.0008 * sampleRateHz));
      out[at] = out[at]! + level * envelope * Math.sin(omega * idx);
    }
  }
}

/** Count-in: clicks one beat apart that end a beat before `startSec`; the first of each bar accented.
 * @param beatSec length of a beat, in seconds @param beatsPerBar where accents fall, counted back from the start */
export function countIn(startSec: number, beatLenSec: number, beats: number, beatsPerBar: number): Click[] {
  return Array.from({ length: beats }, (_, idx) => ({
    sec: startSec - (beats - idx) * beatLenSec,
    accent: (((idx - beats) % beatsPerBar) + beatsPerBar) % beatsPerBar === 0,
  }));
}
