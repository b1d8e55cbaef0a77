/** The header of the text sheet: what stands in it and in what order. In: a sheet. Out: "NAME: value" lines; `read-header.ts` reads them.
 *   title, composer, remark          free text
 *   tuning: NAME = E2 A2 D3 G3 B3 E4 strings 6 → 1, sounding without the capo;  capo: 2
 *   tempo: 96 [(estimated)]          beats a minute, beats as the meter's lower number;  meter: 4/4
 *   pick-up: 1+1/2 beats             feel: swing 2:1      rhythm: none      left hand: shown
 *   form: A 1-4; B 5-8               repeats: 1-4 x2; 5-9 x2 / ending 1 = 8 / ending 2 = 9
 *   mode: A mixolydian               undecided: ionian or mixolydian by 7    parent scale, usage, improvise, why
 *   pattern: 4 beats: 1 p5, 1+1/2 i3; bars 1-4       departs: 5; lacks 2 m2; adds 3 i2; what it is
 * Names in any order when read; unknown ones are kept as remarks. */
import { roundTo } from "../base/numbers.js";
import { noteName } from "../theory/pitch.js";
import { BEAT_TICKS, pickupTicks } from "./bar-time.js";
import { beatsText, beatsWithUnit, rangesText } from "./beats-text.js";
import type { PatternHit, Repeat, Sheet } from "./sheet.js";

/** First line of every text sheet. */
export const FIRST_LINE = "pulgar sheet 1";

/** One line's worth of free text. */
const oneLine = (text: string): string => text.replace(/\s+/g, " ").trim();
/** Free text that stands in a list parted by semicolons. */
const item = (text: string): string => oneLine(text.replaceAll(";", ","));

/** The header's lines, joined. */
export function headerText(sheet: Sheet): string {
  const { grid } = sheet;
  const pickup = pickupTicks(sheet);
  const lines: [string, string | undefined][] = [
    ["title", oneLine(sheet.title)],
    ["composer", oneLine(sheet.composer)],
    [
      "tuning",
      `${oneLine(sheet.tuningName) || "own"} = ${sheet.openMidi.map((midi) => noteName(midi, "sharps")).join(" ")}`,
    ],
    ["capo", sheet.capo > 0 ? String(sheet.capo) : undefined],
    ["tempo", `${roundTo(grid.tempoBpm, 2)}${grid.tempoFrom === "estimated" ? " (estimated)" : ""}`],
    ["meter", `${grid.meter.beats}/${grid.meter.unit}`],
    ["pick-up", pickup > 0 ? beatsWithUnit(pickup) : undefined],
    ["feel", grid.feel === "swing" ? `swing ${roundTo(grid.swingRatio, 3)}:1` : undefined],
    ["rhythm", sheet.rhythm],
    ["left hand", sheet.showLeftHand ? "shown" : undefined],
    [
      "form",
      sheet.form
        .filter((part) => part.bars.length > 0)
        .map((part) => `${item(part.label)} ${rangesText(part.bars)}`.trim())
        .join("; "),
    ],
    ["repeats", sheet.repeats.map(repeatText).join("; ")],
    ...modeLines(sheet),
    ...patternLines(sheet),
    ...(sheet.remarks ?? []).map((text): [string, string] => ["remark", oneLine(text)]),
  ];
  return [FIRST_LINE, ...lines.filter(([, value]) => value).map(([name, value]) => `${name}: ${value}`)].join(
    "\n",
  );
}

const repeatText = (repeat: Repeat): string =>
  [
    `${repeat.fromBar}-${repeat.toBar} x${repeat.times}`,
    ...repeat.endings.map((e) => `ending ${rangesText(e.times)} = ${rangesText(e.bars)}`),
  ]
    .join(" / ")
    .trim();

function modeLines(sheet: Sheet): [string, string | undefined][] {
  const { mode } = sheet;
  if (!mode) return [];
  return [
    ["mode", `${oneLine(mode.tonic)} ${mode.mode}`],
    ...mode.undecided.map((u): [string, string] => [
      "undecided",
      `${u.between.join(" or ")} by ${oneLine(u.missingDegree)}`,
    ]),
    ["parent scale", oneLine(mode.parentScale)],
    ["usage", mode.usage],
    ["improvise", mode.improvise.map(item).join("; ")],
    ...mode.evidence.map((text): [string, string] => ["why", oneLine(text)]),
  ];
}

/** Hits of a pattern as a reader counts them: "1 p5, 1+1/2 i3". */
export const hitsText = (hits: readonly PatternHit[]): string =>
  hits
    .map((h) => `${beatsText(Math.max(0, Math.round(h.beat * BEAT_TICKS)))} ${h.finger}${h.string}`)
    .join(", ");

function patternLines(sheet: Sheet): [string, string | undefined][] {
  const { pattern } = sheet;
  if (!pattern) return [];
  const beats = beatsWithUnit(Math.max(0, Math.round(pattern.beats * BEAT_TICKS)));
  const bars = pattern.bars.length > 0 ? `; bars ${rangesText(pattern.bars)}` : "";
  return [
    ["pattern", `${beats}: ${hitsText(pattern.hits)}${bars}`],
    ...pattern.departures.map((d): [string, string] => {
      const parts = [String(d.bar)];
      if (d.missing.length > 0) parts.push(`lacks ${hitsText(d.missing)}`);
      if (d.added.length > 0) parts.push(`adds ${hitsText(d.added)}`);
      if (item(d.note)) parts.push(item(d.note));
      return ["departs", parts.join("; ")];
    }),
  ];
}
