/** What a MusicXML score says once: title, meter, tempo, swing, tuning, capo, key with its mode.
 * Source: W3C MusicXML 4.0, elements work-title, creator, time, metronome, sound, swing, staff-tuning, capo, key. */

import { roundTo } from "../base/numbers.js";
import type { Meter } from "../grid/grid.js";
import type { ModeGuess, ModeName } from "../harmony/harmony.js";
import { signatureFifths } from "../theory/scale.js";
import { tuningName } from "../theory/tuning.js";
import { MODE_NAMES } from "./mode-name.js";
import type { XmlMeasure } from "./musicxml-notes.js";
import { child, childNumber, childrenOf, childText, type XmlElement } from "./xml-tree.js";

/** @property quarterTicks ticks of a quarter: 24 a beat of the meter's lower number */
export type ScoreHead = {
  title: string;
  composer: string;
  meter: Meter;
  quarterTicks: number;
  tempoBpm: number;
  hasTempo: boolean;
  swingRatio: number;
  openMidi: number[] | undefined;
  tuningName: string;
  capo: number;
  mode: ModeGuess | undefined;
};

const TONICS = [
  "C",
  "C#",
  "Db",
  "D",
  "Eb",
  "E",
  "F",
  "F#",
  "Gb",
  "G",
  "Ab",
  "A",
  "Bb",
  "B",
  "D#",
  "G#",
  "A#",
];
const LETTERS: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const BEAT_UNITS = ["whole", "half", "quarter", "eighth", "16th", "32nd"];

export function headOf(root: XmlElement, measures: readonly XmlMeasure[]): ScoreHead {
  const attributes = measures.flatMap((m) => m.attributes);
  const meter = (measures.find((m) => !m.isImplicit) ?? measures[0])?.meter ?? { beats: 4, unit: 4 };
  const quarterTempo = tempoOf(measures);
  const details = attributes.flatMap((a) => childrenOf(a, "staff-details"));
  const openMidi = details.map(tuningOf).find((t) => t !== undefined);
  const capo = details.map((d) => childNumber(d, "capo")).find((c) => c !== undefined) ?? 0;
  const creator = childrenOf(child(root, "identification"), "creator").find(
    (c) => c.attributes.type === "composer",
  );
  return {
    title: clean(childText(child(root, "work"), "work-title") ?? childText(root, "movement-title") ?? ""),
    composer: clean(creator?.text ?? ""),
    meter,
    quarterTicks: 6 * meter.unit,
    tempoBpm: roundTo(((quarterTempo ?? 120) * meter.unit) / 4, 2),
    hasTempo: quarterTempo !== undefined,
    swingRatio: swingOf(measures),
    openMidi,
    tuningName: openMidi ? tuningName(openMidi) : "standard",
    capo: Math.max(0, Math.min(24, Math.round(capo))),
    mode: modeOf(attributes, modeField(root)),
  };
}

const clean = (text: string): string => text.replace(/\s+/g, " ").trim().slice(0, 500);

/** First tempo in quarters a minute. */
function tempoOf(measures: readonly XmlMeasure[]): number | undefined {
  const inRange = (x: number | undefined): x is number => x !== undefined && x >= 4 && x <= 1000;
  for (const direction of measures.flatMap((m) => m.directions)) {
    const sound = direction.name === "sound" ? direction : child(direction, "sound");
    const told = Number(sound?.attributes.tempo ?? Number.NaN);
    if (inRange(told)) return told;
    for (const type of childrenOf(direction, "direction-type")) {
      const mark = child(type, "metronome");
      const perMinute = Number((childText(mark, "per-minute") ?? "").replace(/[^\d.]/g, "") || Number.NaN);
      const unitIdx = BEAT_UNITS.indexOf(childText(mark, "beat-unit") ?? "");
      if (!mark || unitIdx < 0) continue;
      const dots = childrenOf(mark, "beat-unit-dot").length;
      const quarters = (4 / 2 ** unitIdx) * (2 - 0.5 ** dots);
      if (inRange(perMinute * quarters)) return perMinute * quarters;
    }
  }
  return undefined;
}

function swingOf(measures: readonly XmlMeasure[]): number {
  for (const direction of measures.flatMap((m) => m.directions)) {
    const sound = direction.name === "sound" ? direction : child(direction, "sound");
    const swing = child(sound, "swing");
    const first = childNumber(swing, "first");
    const second = childNumber(swing, "second");
    if (
      first !== undefined &&
      second !== undefined &&
      second > 0 &&
      first / second >= 1 &&
      first / second <= 10
    )
      return roundTo(first / second, 3);
  }
  return 1;
}

/** Strings 6 → 1 from staff-tuning lines 1 (lowest) to 6; undefined for another number of strings. */
function tuningOf(details: XmlElement): number[] | undefined {
  const byLine = new Map<string, number>();
  for (const tuning of childrenOf(details, "staff-tuning")) {
    const letter = LETTERS[childText(tuning, "tuning-step") ?? ""];
    const octave = childNumber(tuning, "tuning-octave");
    if (letter === undefined || octave === undefined) continue;
    const midi = Math.round(letter + (childNumber(tuning, "tuning-alter") ?? 0) + 12 * (octave + 1));
    if (midi >= 0 && midi <= 127) byLine.set(tuning.attributes.line ?? "", midi);
  }
  const open = ["1", "2", "3", "4", "5", "6"].map((line) => byLine.get(line)).filter((m) => m !== undefined);
  return open.length === 6 && byLine.size === 6 ? open : undefined;
}

/** The field of our own export that says the tonic and the mode in full. */
function modeField(root: XmlElement): string | undefined {
  const fields = childrenOf(child(child(root, "identification"), "miscellaneous"), "miscellaneous-field");
  return fields.find((f) => f.attributes.name === "tonic and mode")?.text.trim();
}

/** Key and mode where the score names the mode; a bare signature says neither. The field is believed while the signature agrees with it:
 * another program may have changed the one and not the other. */
function modeOf(attributes: readonly XmlElement[], field: string | undefined): ModeGuess | undefined {
  const key = attributes.map((a) => child(a, "key")).find((k) => k !== undefined);
  const fifths = childNumber(key, "fifths");
  const said = childText(key, "mode");
  const named = said === "major" ? "ionian" : said === "minor" ? "aeolian" : said;
  const mode = MODE_NAMES.find((m): m is ModeName => m === named);
  if (fifths === undefined || !mode) return undefined;
  const match = /^([A-G][#b]?) (.+)$/.exec(field ?? "");
  const fieldMode = MODE_NAMES.find((m): m is ModeName => m === match?.[2]);
  const isSameSignature = (t: string, m: ModeName): boolean => (signatureFifths(t, m) - fifths) % 12 === 0;
  if (match?.[1] && fieldMode && plainMode(fieldMode) === mode && isSameSignature(match[1], fieldMode))
    return guessOf(match[1], fieldMode);
  const tonic = TONICS.find((t) => signatureFifths(t, mode) === fifths);
  return tonic ? guessOf(tonic, mode) : undefined;
}

/** The mode as a key signature's name has it. */
const plainMode = (mode: ModeName): ModeName => (/minor/.test(mode) ? "aeolian" : mode);

function guessOf(tonic: string, mode: ModeName): ModeGuess {
  return {
    tonic,
    mode,
    confidence: 1,
    candidates: [{ tonic, mode, probability: 1 }],
    undecided: [],
    evidence: [],
    parentScale: "",
    improvise: [`${tonic} ${mode}`],
  };
}
