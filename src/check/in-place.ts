/** Bars that seem to be moved and yet have exactly the time they need are in their place, only other music is written there.
 * In: Score, Structure, what was heard. Out: the Structure that leaves the fewest notes unexplained.
 * Method: the player's clock runs on from bar to bar; where it comes back to what it was (a bar left out here, one put in there), or
 * where notes sound on after the last bar found, the bars between are tried in their place. A trial stays when written notes not
 * found and heard notes not written, together, grow fewer.
 * Can't do: a tab whose bars differ in length and that says no rhythm. */
import { median } from "../base/numbers.js";
import type { EvidenceMap, PlayedNote } from "../notes/played-note.js";
import { peakBetween } from "./evidence.js";
import { type BarPass, type BarPlace, MOST_UNWRITTEN_BARS, pacesOf, type Structure } from "./structure.js";
import type { PlayedBar, Score } from "./written.js";

const IN_PLACE_DEFAULTS = Object.freeze({
  clockShare: 0.3, // of a bar: a clock off by less has come back; half a bar would be a stumble
  sameStartShare: 0.25, // of a bar: a pass that begins this near a bar's place stands there
  reachSec: 0.12, // of a note from its place: rough times between two bars drift by so much
  heardLogit: -1, // an onset peak above this is a written note found
  leastHeard: 3, // notes in its time that make a bar after the last one found: a string that seems struck anew there is none
  perMove: 3, // notes that a bar left out or put in must explain to be believed
});

/** Rough times of every written event that was played, by the bar it lies in. */
export function roughTimes(score: Score, places: readonly BarPlace[]): (number | undefined)[] {
  const rough = new Array<number | undefined>(score.events.length).fill(undefined);
  const paceAt = paceNear(score, places);
  const spread = (bar: PlayedBar, pass: BarPass): void => {
    const pace = paceAt(pass.fromSec) ?? (pass.toSec - pass.fromSec) / bar.lengthTicks;
    const firstTick = score.events[bar.firstEvent]?.startTick ?? 0;
    for (let e = bar.firstEvent; e < bar.endEvent; e++)
      rough[e] = pass.fromSec + ((score.events[e]?.startTick ?? 0) - firstTick) * pace;
  };
  score.bars.forEach((bar, barIdx) => {
    const place = places[barIdx];
    if (!place || place.kind === "left-out") return;
    if (place.kind === "instead") spread(bar, place.pass);
    else
      place.pass.visitSec.forEach((sec, i) => {
        if (bar.firstEvent + i < bar.endEvent) rough[bar.firstEvent + i] = sec;
      });
  });
  return rough;
}

/** Seconds a tick near a moment: the median of the five bars played nearest to it. */
function paceNear(score: Score, places: readonly BarPlace[]): (sec: number) => number | undefined {
  const paces = pacesOf(
    score,
    places.flatMap((p) => (p.kind === "left-out" ? [] : [p.pass])),
  ).sort((a, b) => a.sec - b.sec);
  return (sec) => {
    // The nearest stand side by side: from the last before `sec` the window grows on the side that is nearer.
    const next = paces.findIndex((p) => p.sec >= sec);
    let to = next < 0 ? paces.length : next;
    let from = to;
    while (to - from < NEAR_PACES && to - from < paces.length) {
      const [before, after] = [paces[from - 1], paces[to]];
      const takesBefore = before && (!after || sec - before.sec <= after.sec - sec);
      if (takesBefore) from--;
      else to++;
    }
    return median(paces.slice(from, to).map((p) => p.secPerTick));
  };
}

const NEAR_PACES = 5;

/** What a structure leaves unexplained, in notes: written ones not found and heard ones not written, a pair of them at one moment
 * counted once as a wrong pitch, and so many for every move. A section played again is explained by itself. */
function unexplained(
  score: Score,
  structure: Structure,
  map: EvidenceMap,
  heard: readonly PlayedNote[],
  transpose: number,
): number {
  const { reachSec, heardLogit, perMove } = IN_PLACE_DEFAULTS;
  const rough = roughTimes(score, structure.places);
  const foundSecs = new Map<number, number[]>();
  const absentSecs: number[] = [];
  let cost = 0;
  score.events.forEach((event, e) => {
    const sec = rough[e];
    for (const written of event.midis) {
      const midi = written + transpose;
      const peak = sec === undefined ? undefined : peakBetween(map, midi, sec - reachSec, sec + reachSec);
      if (peak && peak.logit >= heardLogit) foundSecs.set(midi, [...(foundSecs.get(midi) ?? []), peak.sec]);
      else {
        cost++;
        if (sec !== undefined) absentSecs.push(sec);
      }
    }
  });
  const again = structure.surplus
    .filter((s) => s.passes.length > MOST_UNWRITTEN_BARS)
    .flatMap((s) => s.passes.filter((p) => p.barIdx >= 0 && p.complete));
  for (const note of heard) {
    const isNear = (sec: number): boolean => Math.abs(sec - note.onsetSec) < reachSec;
    if ((foundSecs.get(note.midi) ?? []).some(isNear)) continue;
    if (again.some((p) => note.onsetSec > p.fromSec - reachSec && note.onsetSec < p.toSec - reachSec))
      continue;
    const paired = absentSecs.findIndex(isNear);
    if (paired < 0) cost++;
    else absentSecs.splice(paired, 1);
  }
  const runs = structure.places.filter(
    (p, i) => p.kind === "left-out" && structure.places[i - 1]?.kind !== "left-out",
  ).length;
  return cost + perMove * (runs + structure.surplus.length);
}

/** A placed bar with the moment at which its bar line falls. */
type Anchor = { barIdx: number; sec: number };

/** The structure with bars back in their place where that explains more.
 * @param heard clearly heard notes @param transpose semitones that the recording sounds above the sheet */
export function settleInPlace(
  score: Score,
  structure: Structure,
  map: EvidenceMap,
  heard: readonly PlayedNote[],
  transpose: number,
): Structure {
  let best = structure;
  let cost = unexplained(score, best, map, heard, transpose);
  for (let round = 0; round < score.bars.length; round++) {
    const better = trials(score, best, heard)
      .map((trial) => ({ trial, cost: unexplained(score, trial, map, heard, transpose) }))
      .sort((a, b) => a.cost - b.cost)[0];
    if (!better || better.cost >= cost) break;
    best = better.trial;
    cost = better.cost;
  }
  return best;
}

/** Structures in which one stretch of bars is put back in its place. */
function trials(score: Score, structure: Structure, heard: readonly PlayedNote[]): Structure[] {
  const { places } = structure;
  const paceNearest = paceNear(score, places);
  const anyPace = paceNearest(0);
  if (anyPace === undefined) return []; // no bar was played through
  const paceAt = (sec: number): number => paceNearest(sec) ?? anyPace;
  const lineOf = (pass: BarPass): number => {
    const bar = score.bars[pass.barIdx];
    const lead = (score.events[bar?.firstEvent ?? -1]?.startTick ?? 0) - (bar?.startTick ?? 0);
    return pass.fromSec - (bar === undefined ? 0 : lead * paceAt(pass.fromSec)); // tick · sec/tick = sec
  };
  const anchors: Anchor[] = places.flatMap((place, barIdx) =>
    place.kind === "left-out" ? [] : [{ barIdx, sec: lineOf(place.pass) }],
  );
  const tickOf = (barIdx: number): number => score.bars[barIdx]?.startTick ?? 0;
  const barSecAt = (a: Anchor): number => (score.bars[a.barIdx]?.lengthTicks ?? 0) * paceAt(a.sec);
  /** How much later the second bar line falls than the clock of the first has it, seconds. */
  const lateBy = (a: Anchor, b: Anchor): number =>
    b.sec - a.sec - (tickOf(b.barIdx) - tickOf(a.barIdx)) * paceAt((a.sec + b.sec) / 2);
  const isOff = (i: number): boolean => {
    const [a, b] = [anchors[i], anchors[i + 1]];
    if (!a || !b) return false;
    if (b.barIdx > a.barIdx + 1) return true;
    return Math.abs(lateBy(a, b)) > IN_PLACE_DEFAULTS.clockShare * barSecAt(a);
  };
  const out: Structure[] = [];
  anchors.forEach((a, i) => {
    if (!isOff(i)) return;
    for (let j = i + 1; j < anchors.length; j++) {
      const b = anchors[j] as Anchor;
      if (Math.abs(lateBy(a, b)) > IN_PLACE_DEFAULTS.clockShare * barSecAt(a)) continue;
      if (b.barIdx > a.barIdx + 1) out.push(putBack(score, structure, lineOf, a, b));
      break;
    }
  });
  const lastIdx = score.bars.findLastIndex((b) => b.endEvent > b.firstEvent);
  for (const [i, a] of anchors.entries()) {
    if (i < anchors.length - 1 && !isOff(i)) continue;
    // As many bars as notes sound on for.
    const pace = paceAt(a.sec);
    const lineSecOf = (tick: number): number => a.sec + (tick - tickOf(a.barIdx)) * pace - 0.1;
    const toIdx = score.bars.findLastIndex((bar, k) => {
      const notes = score.events.slice(bar.firstEvent, bar.endEvent).reduce((n, e) => n + e.midis.length, 0);
      const [fromSec, toSec] = [lineSecOf(bar.startTick), lineSecOf(bar.startTick + bar.lengthTicks)];
      const within = heard.filter((n) => n.onsetSec >= fromSec && n.onsetSec < toSec).length;
      return notes > 0 && k <= lastIdx && within >= Math.min(IN_PLACE_DEFAULTS.leastHeard, notes);
    });
    if (toIdx <= a.barIdx) continue;
    const end = { barIdx: toIdx + 1, sec: a.sec + (endTick(score, toIdx) - tickOf(a.barIdx)) * pace };
    out.push(putBack(score, structure, lineOf, a, end));
  }
  const first = anchors[0];
  if (first && first.barIdx > 0) {
    const pace = paceAt(first.sec);
    const startSec = first.sec - (tickOf(first.barIdx) - tickOf(0)) * pace;
    const head = { barIdx: -1, sec: startSec };
    if (startSec > -0.1) out.push(putBack(score, structure, lineOf, head, first));
  }
  return out;
}

const endTick = (score: Score, barIdx: number): number => {
  const bar = score.bars[barIdx];
  return bar ? bar.startTick + bar.lengthTicks : 0;
};

/** All bars between two bar lines of the player put where his clock has them. @param a its bar −1: sec is the start of the first bar */
function putBack(
  score: Score,
  structure: Structure,
  lineOf: (pass: BarPass) => number,
  a: Anchor,
  b: Anchor,
): Structure {
  const fromTick = score.bars[Math.max(0, a.barIdx)]?.startTick ?? 0;
  const toTick = score.bars[b.barIdx]?.startTick ?? endTick(score, b.barIdx - 1);
  const pace = (b.sec - a.sec) / (toTick - fromTick);
  const secOf = (tick: number): number => a.sec + (tick - fromTick) * pace;
  const passes = [
    ...structure.places.flatMap((p) => (p.kind === "left-out" ? [] : [p.pass])),
    ...structure.surplus.flatMap((s) => s.passes),
  ];
  const places = [...structure.places];
  for (let barIdx = a.barIdx + 1; barIdx < b.barIdx; barIdx++) {
    const bar = score.bars[barIdx] as PlayedBar;
    if (bar.endEvent === bar.firstEvent) continue;
    const startSec = secOf(bar.startTick);
    const nearSec = IN_PLACE_DEFAULTS.sameStartShare * bar.lengthTicks * pace;
    const there = passes.find((p) => p.barIdx >= 0 && p.complete && Math.abs(lineOf(p) - startSec) < nearSec);
    if (there && score.bars[there.barIdx]?.contentKey === bar.contentKey) {
      places[barIdx] = { kind: "played", pass: there };
      continue;
    }
    const visitSec = score.events.slice(bar.firstEvent, bar.endEvent).map((e) => secOf(e.startTick));
    const pass: BarPass = {
      barIdx: there?.barIdx ?? barIdx,
      fromSec: visitSec[0] as number,
      toSec: secOf(bar.startTick + bar.lengthTicks),
      visitSec,
      complete: true,
    };
    places[barIdx] = { kind: there ? "instead" : "played", pass };
  }
  // Later bars keep their place only after the last of these; what was put in between is now accounted for.
  for (let barIdx = b.barIdx; barIdx < places.length; barIdx++) {
    const place = places[barIdx];
    if (place && place.kind !== "left-out" && lineOf(place.pass) < b.sec - 0.1)
      places[barIdx] = { kind: "left-out" };
  }
  const surplus = structure.surplus.flatMap((s) => {
    const kept = s.passes.filter((p) => p.fromSec < a.sec - 0.1 || p.fromSec > b.sec - 0.1);
    return kept.length === 0 ? [] : [{ ...s, passes: kept }];
  });
  return { places, surplus };
}
