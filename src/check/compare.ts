/** Is what is printed what was played.
 * In: Sheet, Listening. Out: CheckReport: differences with probabilities, a verdict a bar, findings.
 * Method: align (align.ts), ask the recording about each written note (judge.ts) and the sheet about each heard one (unwritten.ts),
 * pair what is missing with what stands in its place, weigh times against the player's own pulse (timing.ts), and look at the sheet
 * alone (sheet-rules.ts). What the sound cannot decide is unsure and never a difference.
 * @throws from checkSheet: "no-notes" for an empty sheet or recording, "other-music" when the two are not the same piece. */
import { PulgarError } from "../base/errors.js";
import { roundTo } from "../base/numbers.js";
import type { Listening } from "../notes/played-note.js";
import type { Sheet } from "../sheet/sheet.js";
import { type Alignment, alignSheet } from "./align.js";
import { type Asked, askNotes } from "./judge.js";
import { type Claim, fretOn, pairClaims } from "./pairs.js";
import type { BarVerdict, CheckReport, Difference } from "./report.js";
import { sheetRuleFindings } from "./sheet-rules.js";
import { eventOffsetsMs, type Span } from "./timing.js";
import { askHeard } from "./unwritten.js";
import { swungTick, TICKS_A_BEAT } from "./written.js";

const CHECK_DEFAULTS = Object.freeze({
  timingToleranceMs: 80, // twice the spread of a steady amateur; beyond it a listener hears a slip
  surelyThere: 0.6, // probability of being there from which a note's time is judged
  leastAgreement: 0.55, // share of written notes found; other pieces by the same hand reach about 0.45
  leastCoverage: 0.35, // notes found against the shorter of sheet and take; other pieces reach 0.15
});

/** The moment each event was surely heard, for judging time: the span of its present notes. */
function heardSecs(alignment: Alignment, asked: readonly Asked[]): (Span | undefined)[] {
  const sums = alignment.events.map(() => ({
    first: Number.POSITIVE_INFINITY,
    last: Number.NEGATIVE_INFINITY,
  }));
  for (const a of asked) {
    const sum = sums[a.eventIdx];
    if (!sum || a.there < CHECK_DEFAULTS.surelyThere || a.peakLogit < 0) continue;
    sum.first = Math.min(sum.first, a.sec);
    sum.last = Math.max(sum.last, a.sec);
  }
  return sums.map((s) => (s.last >= s.first ? { firstSec: s.first, lastSec: s.last } : undefined));
}

const beatOf = (tick: number): number => roundTo(1 + tick / TICKS_A_BEAT, 3); // tick ÷ tick/beat = beats

/** Compare a sheet with a recording. */
export function checkSheet(
  sheet: Sheet,
  listening: Listening,
  options: { timingToleranceMs?: number } = {},
): CheckReport {
  if (sheet.notes.length === 0)
    throw new PulgarError(
      "no-notes",
      "The sheet has no notes.",
      "Give a sheet with at least a bar of music.",
    );
  if (listening.notes.length === 0)
    throw new PulgarError(
      "no-notes",
      "No notes were heard in the recording.",
      "Check the file and its level.",
    );
  const alignment = alignSheet(sheet, listening);
  if (
    alignment.agreement < CHECK_DEFAULTS.leastAgreement ||
    alignment.coverage < CHECK_DEFAULTS.leastCoverage
  )
    throw new PulgarError(
      "other-music",
      `These do not look like the same music: ${Math.round(Math.min(alignment.agreement, alignment.coverage) * 100)} % of the notes are where they should be.`,
      "Check that the sheet and the recording belong together.",
    );
  const asked = askNotes(sheet, listening, alignment);
  const heard = askHeard(sheet, listening, alignment, asked);
  const claims = pairClaims(sheet, alignment, asked, heard);
  const toleranceMs = options.timingToleranceMs ?? CHECK_DEFAULTS.timingToleranceMs;
  const differences = [
    ...claims.filter((c) => !c.unsure).map((c) => toDifference(c, sheet, alignment)),
    ...timingDifferences(sheet, alignment, asked, claims, toleranceMs),
  ].sort((a, b) => a.bar - b.bar || a.beat - b.beat || (b.string ?? 0) - (a.string ?? 0));
  const rules = sheetRuleFindings(sheet);
  const plucked = sheet.notes.filter((n) => !n.marks.includes("tie") && !n.marks.includes("dead")).length;
  const count = (kind: Difference["kind"]): number => differences.filter((d) => d.kind === kind).length;
  const [missing, wrongPitch] = [count("missing"), count("wrong-pitch")];
  const heardAtSec = sheet.notes.map((): number | undefined => undefined);
  for (const a of asked)
    if (a.there >= 0.5 && heardAtSec[a.noteIdx] === undefined) heardAtSec[a.noteIdx] = a.sec;
  return {
    summary: {
      written: plucked,
      matched: Math.max(0, plucked - missing - wrongPitch),
      missing,
      extra: count("extra"),
      wrongPitch,
      timing: count("early") + count("late"),
    },
    bars: barVerdicts(sheet, differences, claims, asked, rules),
    differences,
    findings: [...alignment.findings, ...rules],
    heardAtSec,
  };
}

/** Does the sheet stand: nothing differs, and no rule of the sheet itself is broken. */
export const sheetStands = (report: CheckReport): boolean =>
  report.differences.length === 0 && !report.bars.some((b) => b.verdict === "differs");

function toDifference(claim: Claim, sheet: Sheet, alignment: Alignment): Difference {
  const note = claim.noteIdx === undefined ? undefined : sheet.notes[claim.noteIdx];
  const raised =
    claim.noteIdx === undefined || !note ? 0 : (alignment.midiOf[claim.noteIdx] ?? note.midi) - note.midi;
  const playedFret =
    claim.kind === "wrong-pitch" && note && claim.playedMidi !== undefined
      ? (claim.place?.fret ?? fretOn(sheet, note.string, claim.playedMidi - raised))
      : undefined;
  return {
    kind: claim.kind,
    bar: claim.bar,
    beat: beatOf(claim.tick),
    ...(note ? { string: note.string, fret: note.fret, writtenMidi: note.midi } : claim.place),
    ...(claim.playedMidi === undefined ? {} : { playedMidi: claim.playedMidi }),
    ...(claim.sec === undefined ? {} : { onsetSec: roundTo(claim.sec, 3) }),
    ...(claim.offMs === undefined ? {} : { offMs: Math.round(claim.offMs) }),
    ...(playedFret === undefined ? {} : { playedFret }),
    ...(note && claim.place ? { playedString: claim.place.string } : {}),
    confidence: roundTo(claim.confidence, 3),
  };
}

/** Events off the pulse by more than the tolerance: one difference for each of their notes. */
function timingDifferences(
  sheet: Sheet,
  alignment: Alignment,
  asked: readonly Asked[],
  claims: readonly Claim[],
  toleranceMs: number,
): Difference[] {
  if (!alignment.score.hasRhythm) return [];
  const { events } = alignment;
  const swung = events.map((e) => e.startTick - e.tick + swungTick(e.tick, sheet));
  const offsets = eventOffsetsMs(events, swung, heardSecs(alignment, asked));
  const claimed = new Set(claims.map((c) => c.noteIdx));
  const told = new Set<number>();
  const out: Difference[] = [];
  for (const a of asked) {
    const offMs = offsets[a.eventIdx];
    const note = sheet.notes[a.noteIdx];
    const event = events[a.eventIdx];
    if (offMs === undefined || !note || !event || Math.abs(offMs) <= toleranceMs) continue;
    if (a.there < CHECK_DEFAULTS.surelyThere || claimed.has(a.noteIdx) || told.has(a.noteIdx)) continue;
    if (note.marks.includes("grace")) continue;
    told.add(a.noteIdx);
    out.push({
      kind: offMs < 0 ? "early" : "late",
      bar: event.bar,
      beat: beatOf(event.tick),
      string: note.string,
      fret: note.fret,
      writtenMidi: note.midi,
      playedMidi: a.midi,
      onsetSec: roundTo(a.sec, 3),
      offMs: Math.round(offMs),
      confidence: roundTo(
        Math.min(1, a.there * (1 - 0.5 * Math.exp(-(Math.abs(offMs) - toleranceMs) / 30))),
        3,
      ),
    });
  }
  return out;
}

function barVerdicts(
  sheet: Sheet,
  differences: readonly Difference[],
  claims: readonly Claim[],
  asked: readonly Asked[],
  rules: CheckReport["findings"],
): BarVerdict[] {
  const firstBar = sheet.notes.some((n) => n.bar === 0) ? 0 : 1;
  const lastBar = Math.max(sheet.grid.barCount, ...sheet.notes.map((n) => n.bar));
  const differing = new Set(differences.map((d) => d.bar));
  for (const rule of rules) if (rule.level === "error") differing.add(rule.bar);
  const unsure = new Set(claims.filter((c) => c.unsure).map((c) => c.bar));
  for (const a of asked) if (!a.audible) unsure.add(sheet.notes[a.noteIdx]?.bar ?? 0);
  const bars: BarVerdict[] = [];
  for (let bar = firstBar; bar <= lastBar; bar++)
    bars.push({ bar, verdict: differing.has(bar) ? "differs" : unsure.has(bar) ? "unsure" : "same" });
  return bars;
}
