/** From probabilities to claims: missing, wrong pitch, extra, or unsure.
 * In: notes as asked, heard onsets that nothing written accounts for. Out: claims, one a written note at most.
 * A missing note and an unwritten one at the same moment are one wrong pitch when the written string could sound it within a
 * fourth or so, nearest pitch first. The same pitch a little off its place is early or late. A note asked several times (repeats)
 * is claimed once, by its worst time through. */
import type { Sheet } from "../sheet/sheet.js";
import type { Alignment } from "./align.js";
import type { Asked } from "./judge.js";
import type { DifferenceKind } from "./report.js";
import type { Unwritten } from "./unwritten.js";

const PAIR_DEFAULTS = Object.freeze({
  absentBelow: 0.35,
  unsureBelow: 0.6,
  extraAbove: 0.85, // above it no false one among 24 right and 24 spoiled takes but two, and none of 72 true ones lost (check-fit takes)
  extraUnsureAbove: 0.6,
  pairSec: 0.075,
  mostSemitones: 7,
  highestFret: 24,
  nearFrets: 4, // the hand reaches so far up the written string; beyond, a free string with a lower fret is meant
});

/** @property place string and fret at which an extra note, or another pitch that the written string has not under the hand, could be played */
export type Claim = {
  kind: DifferenceKind;
  unsure: boolean;
  bar: number;
  tick: number;
  noteIdx?: number;
  playedMidi?: number;
  sec?: number;
  offMs?: number;
  place?: { string: number; fret: number };
  confidence: number;
};

/** Can the written string sound this pitch? @returns its fret from the capo, undefined when not */
export function fretOn(sheet: Sheet, string: number, midi: number): number | undefined {
  const open = sheet.openMidi[6 - string];
  if (open === undefined) return undefined;
  const fret = midi - open - sheet.capo;
  return fret >= 0 && fret + sheet.capo <= PAIR_DEFAULTS.highestFret ? fret : undefined;
}

/** Lowest place on the neck for a pitch, on a string that nothing written at that moment uses. */
function freePlace(
  sheet: Sheet,
  midi: number,
  used: ReadonlySet<number>,
): { string: number; fret: number } | undefined {
  let best: { string: number; fret: number } | undefined;
  for (let string = 1; string <= 6; string++) {
    const fret = fretOn(sheet, string, midi);
    if (fret === undefined || used.has(string)) continue;
    if (!best || fret < best.fret) best = { string, fret };
  }
  return best;
}

export function pairClaims(
  sheet: Sheet,
  alignment: Alignment,
  asked: readonly Asked[],
  heard: readonly Unwritten[],
): Claim[] {
  const P = PAIR_DEFAULTS;
  const { events, midiOf, transposeSemitones } = alignment;
  const doubtful = asked.filter((a) => a.audible && a.there < P.unsureBelow);
  const free = heard.filter((h) => h.played >= 0.3);
  const options: { a: Asked; h: Unwritten; cost: number }[] = [];
  for (const a of doubtful) {
    const note = sheet.notes[a.noteIdx];
    const eventSec = events[a.eventIdx]?.sec;
    if (!note || eventSec === undefined) continue;
    for (const h of free) {
      const off = Math.abs(h.sec - eventSec);
      const semis = Math.abs(h.midi - a.midi);
      const retuned = alignment.retuned.find((r) => r.string === note.string)?.semitones ?? 0;
      if (off > P.pairSec || semis === 0) continue;
      if (semis > P.mostSemitones && semis !== 12) continue;
      const fret = fretOn(sheet, note.string, h.midi - transposeSemitones - retuned);
      // No string to go by (MIDI) is no hindrance; a string that cannot sound it makes the pair less likely.
      const cost = semis + off * 40 + (fret === undefined ? 4 : 0) + (1 - h.played) * 4 + a.there * 4;
      options.push({ a, h, cost });
    }
  }
  options.sort((x, y) => x.cost - y.cost || x.h.sec - y.h.sec || x.h.midi - y.h.midi);
  const usedA = new Set<Asked>();
  const usedH = new Set<Unwritten>();
  const claims: Claim[] = [];
  for (const { a, h } of options) {
    if (usedA.has(a) || usedH.has(h)) continue;
    const event = events[a.eventIdx];
    if (!event) continue;
    // Joint odds: written absent and other plucked against written there and other a ghost.
    const odds = ((1 - a.there) / Math.max(a.there, 1e-3)) * (h.played / Math.max(1 - h.played, 1e-3));
    const wrong = odds / (1 + odds);
    if (wrong < 0.5) continue;
    usedA.add(a);
    usedH.add(h);
    const note = sheet.notes[a.noteIdx];
    const raised = note ? a.midi - note.midi : 0;
    const taken = new Set(event.noteIdxs.map((i) => sheet.notes[i]?.string ?? 0));
    const own = note && fretOn(sheet, note.string, h.midi - raised);
    const other = freePlace(sheet, h.midi - transposeSemitones, taken);
    const isFar = note === undefined || own === undefined || own > note.fret + P.nearFrets;
    const place = isFar && other && (own === undefined || other.fret < own) ? other : undefined;
    claims.push({
      kind: "wrong-pitch",
      unsure: wrong < 0.7,
      bar: event.bar,
      tick: event.tick,
      noteIdx: a.noteIdx,
      playedMidi: h.midi,
      sec: h.sec,
      ...(place ? { place } : {}),
      confidence: wrong,
    });
  }
  for (const a of doubtful) {
    const event = events[a.eventIdx];
    if (usedA.has(a) || !event) continue;
    const absent = a.there < P.absentBelow;
    claims.push({
      kind: "missing",
      unsure: !absent,
      bar: event.bar,
      tick: event.tick,
      noteIdx: a.noteIdx,
      ...(event.sec === undefined ? {} : { sec: event.sec }),
      confidence: 1 - a.there,
    });
  }
  events.forEach((event) => {
    if (event.sec !== undefined) return;
    for (const noteIdx of event.noteIdxs)
      claims.push({
        kind: "missing",
        unsure: false,
        bar: event.bar,
        tick: event.tick,
        noteIdx,
        confidence: 0.95,
      });
  });
  for (const h of heard) {
    if (usedH.has(h) || h.played < P.extraUnsureAbove) continue;
    const event = events[h.eventIdx];
    const used = new Set<number>();
    if (event?.sec !== undefined && Math.abs(event.sec - h.sec) < P.pairSec)
      for (const i of event.noteIdxs) used.add(sheet.notes[i]?.string ?? 0);
    const bar = alignment.score.bars[h.barIdx]?.bar ?? 0;
    const place = freePlace(sheet, h.midi - transposeSemitones, used);
    claims.push({
      kind: "extra",
      unsure: h.played < P.extraAbove,
      bar,
      tick: h.tick,
      playedMidi: h.midi,
      sec: h.sec,
      ...(place ? { place } : {}),
      confidence: h.played,
    });
  }
  return onceANote(claims, midiOf.length);
}

/** Repeats ask a written note several times: keep its surest claim. */
function onceANote(claims: readonly Claim[], noteCount: number): Claim[] {
  const best = new Array<Claim | undefined>(noteCount).fill(undefined);
  const out: Claim[] = [];
  for (const claim of claims) {
    if (claim.noteIdx === undefined) out.push(claim);
    else {
      const other = best[claim.noteIdx];
      const better =
        !other ||
        (other.unsure && !claim.unsure) ||
        (other.unsure === claim.unsure && claim.confidence > other.confidence);
      if (better) best[claim.noteIdx] = claim;
    }
  }
  for (const claim of best) if (claim) out.push(claim);
  return out.sort(
    (a, b) =>
      a.bar - b.bar ||
      a.tick - b.tick ||
      (a.noteIdx ?? -1) - (b.noteIdx ?? -1) ||
      (a.sec ?? 0) - (b.sec ?? 0),
  );
}
