/** Bars in which much is astray keep the player's pulse: the search would bend them to meet the same pitches a step away.
 * In: Score, times, the player's pulse. Out: times. In a bar where many notes have no onset the sheet is wrong, not the player: its
 * events are set in proportion between the surely heard ones before and after. */
import type { EvidenceMap } from "../notes/played-note.js";
import { peakBetween } from "./evidence.js";
import type { Score } from "./written.js";

const KEEP_PULSE_DEFAULTS = Object.freeze({
  leastAstray: 3, // notes without an onset …
  astrayShare: 0.35, // … and as a share of the bar's: a wrong fret or two bend nothing
  reachSec: 0.07,
  heardLogit: -1,
  slopeShare: 0.15, // tempo between the two sure events against the pulse: beyond it a pause lies between them
});

type Sure = { tick: number; sec: number };

/** @param secs time of each event, undefined where not played @param secPerTick the pulse at each @param swung start ticks as sounded
 * @param midiOf sounding pitch of each sheet note */
export function keepPulse(
  score: Score,
  secs: readonly (number | undefined)[],
  secPerTick: readonly (number | undefined)[],
  swung: readonly number[],
  map: EvidenceMap,
  midiOf: readonly number[],
): (number | undefined)[] {
  const K = KEEP_PULSE_DEFAULTS;
  const absent = score.events.map((event, e) => {
    const sec = secs[e];
    if (sec === undefined) return 0;
    return event.noteIdxs.filter((i) => {
      const peak = peakBetween(map, midiOf[i] as number, sec - K.reachSec, sec + K.reachSec);
      return peak !== undefined && peak.logit < K.heardLogit;
    }).length;
  });
  const isAstray = score.bars.map((bar) => {
    let [missing, all] = [0, 0];
    for (let e = bar.firstEvent; e < bar.endEvent; e++) {
      missing += absent[e] as number;
      all += score.events[e]?.noteIdxs.length ?? 0;
    }
    return missing >= K.leastAstray && missing >= K.astrayShare * all;
  });
  const sureAt = (e: number): Sure | undefined => {
    const [event, sec] = [score.events[e], secs[e]];
    if (!event || sec === undefined || absent[e] !== 0 || isAstray[event.barIdx]) return undefined;
    return { tick: swung[e] as number, sec };
  };
  const nearestSure = (from: number, step: 1 | -1): Sure | undefined => {
    for (let e = from; e >= 0 && e < secs.length; e += step) {
      const sure = sureAt(e);
      if (sure) return sure;
    }
    return undefined;
  };
  const out = [...secs];
  score.bars.forEach((bar, barIdx) => {
    if (!isAstray[barIdx]) return;
    const before = nearestSure(bar.firstEvent - 1, -1);
    const after = nearestSure(bar.endEvent, 1);
    const pulse = secPerTick[bar.firstEvent];
    if (pulse === undefined || (!before && !after)) return;
    const slope = before && after ? (after.sec - before.sec) / (after.tick - before.tick) : pulse;
    if (Math.abs(slope - pulse) > K.slopeShare * pulse) return;
    const from = (before ?? after) as Sure;
    for (let e = bar.firstEvent; e < bar.endEvent; e++)
      if (secs[e] !== undefined) out[e] = from.sec + ((swung[e] as number) - from.tick) * slope; // tick · sec/tick = sec
  });
  return out;
}
