/** One part of a MusicXML score as notes in divisions: cursor, chords, backup and forward, voices, ties.
 * In: the part's measures. Out: measures with raw notes, chords and signs; nothing is placed on a grid yet.
 * Source: W3C MusicXML 4.0, element reference (note, backup, forward, attributes, harmony, direction, barline). */
import { PulgarError } from "../base/errors.js";
import type { LeftFinger, PickFinger } from "../hands/fretted.js";
import { isPickFinger } from "./letters.js";
import type { NoteMark } from "./sheet.js";
import { child, childNumber, childrenOf, childText, type XmlElement } from "./xml-tree.js";

/** A written note. onset and length in quarters from the start of its measure. */
export type XmlNote = {
  onsetQuarters: number;
  quarters: number;
  releaseQuarters: number;
  midi: number | undefined;
  string: number | undefined;
  fret: number | undefined;
  finger: PickFinger | undefined;
  leftFinger: LeftFinger | undefined;
  marks: NoteMark[];
  tieStart: boolean;
  tieStop: boolean;
  staff: number;
  line: number;
};

type XmlHarmony = { onsetQuarters: number; element: XmlElement };

/** @property quarters how long the measure is by its content @property meter as it stands at the measure */
export type XmlMeasure = {
  number: string;
  isImplicit: boolean;
  quarters: number;
  meter: { beats: number; unit: number };
  notes: XmlNote[];
  harmonies: XmlHarmony[];
  directions: XmlElement[];
  barlines: XmlElement[];
  attributes: XmlElement[];
};

const LETTERS: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const MOST_DIVISIONS = 1_000_000;

const fail = (element: XmlElement, message: string): never => {
  throw new PulgarError(
    "bad-xml",
    `line ${element.line}, column ${element.column}: ${message}`,
    "Save the file again in the program that made it, as MusicXML, partwise.",
  );
};

/** All measures of a part. @throws PulgarError "bad-xml" with line and column */
export function readMeasures(part: XmlElement): XmlMeasure[] {
  const state = { divisions: 1, meter: { beats: 4, unit: 4 }, transpose: 0 };
  return childrenOf(part, "measure").map((element) => readMeasure(element, state));
}

type State = { divisions: number; meter: { beats: number; unit: number }; transpose: number };

function readMeasure(element: XmlElement, state: State): XmlMeasure {
  const measure: XmlMeasure = {
    number: element.attributes.number ?? "",
    isImplicit: element.attributes.implicit === "yes",
    quarters: 0,
    meter: state.meter,
    notes: [],
    harmonies: [],
    directions: [],
    barlines: [],
    attributes: [],
  };
  let cursor = 0;
  let lastOnset = 0;
  for (const item of element.children) {
    switch (item.name) {
      case "attributes":
        readAttributes(item, state);
        measure.meter = state.meter;
        measure.attributes.push(item);
        break;
      case "backup":
        cursor = Math.max(0, cursor - durationOf(item, state));
        break;
      case "forward":
        cursor += durationOf(item, state);
        break;
      case "harmony": {
        const offset = (childNumber(item, "offset") ?? 0) / state.divisions;
        measure.harmonies.push({ onsetQuarters: Math.max(0, cursor + offset), element: item });
        break;
      }
      case "direction":
      case "sound":
        measure.directions.push(item);
        break;
      case "barline":
        measure.barlines.push(item);
        break;
      case "note": {
        if (child(item, "cue")) break;
        const isGrace = child(item, "grace") !== undefined;
        const quarters = isGrace ? 0 : durationOf(item, state);
        const onset = child(item, "chord") ? lastOnset : cursor;
        lastOnset = onset;
        if (!child(item, "rest")) measure.notes.push(readNote(item, onset, quarters, isGrace, state));
        if (!child(item, "chord")) cursor += quarters;
        break;
      }
      default:
    }
    measure.quarters = Math.max(measure.quarters, cursor);
  }
  return measure;
}

function durationOf(element: XmlElement, state: State): number {
  const duration = childNumber(element, "duration");
  if (duration === undefined || duration < 0 || duration > 1e9)
    return fail(
      element,
      `<${element.name}> needs a <duration> of 0 or more; found "${childText(element, "duration") ?? "none"}"`,
    );
  return duration / state.divisions;
}

function readAttributes(element: XmlElement, state: State): void {
  if (child(element, "divisions")) {
    const divisions = childNumber(element, "divisions");
    if (divisions === undefined || divisions <= 0 || divisions > MOST_DIVISIONS)
      fail(element, `<divisions> must be a number over 0; found "${childText(element, "divisions")}"`);
    else state.divisions = divisions;
  }
  const time = child(element, "time");
  if (time && !child(time, "senza-misura")) {
    const beats = (childText(time, "beats") ?? "").split("+").reduce((sum, b) => sum + Number(b), 0);
    const unit = childNumber(time, "beat-type");
    if (
      !Number.isInteger(beats) ||
      beats < 1 ||
      beats > 64 ||
      unit === undefined ||
      ![1, 2, 4, 8, 16, 32].includes(unit)
    )
      fail(time, `<time> ${childText(time, "beats")}/${childText(time, "beat-type")} is no meter`);
    else state.meter = { beats, unit };
  }
  const transpose = child(element, "transpose");
  if (transpose)
    state.transpose =
      (childNumber(transpose, "chromatic") ?? 0) + 12 * (childNumber(transpose, "octave-change") ?? 0);
}

function readNote(
  element: XmlElement,
  onset: number,
  quarters: number,
  isGrace: boolean,
  state: State,
): XmlNote {
  const notations = childrenOf(element, "notations");
  const technical = notations.flatMap((n) => childrenOf(n, "technical"));
  const inTechnical = (name: string): XmlElement | undefined =>
    technical.map((t) => child(t, name)).find((x) => x !== undefined);
  const tied = notations.flatMap((n) => childrenOf(n, "tied")).map((t) => t.attributes.type);
  const ties = childrenOf(element, "tie").map((t) => t.attributes.type);
  const marks: NoteMark[] = [];
  for (const mark of ["hammer-on", "pull-off"] as const)
    if (technical.some((t) => childrenOf(t, mark).some((m) => m.attributes.type === "stop")))
      marks.push(mark);
  const isSlid = notations.some((n) =>
    [...childrenOf(n, "slide"), ...childrenOf(n, "glissando")].some((s) => s.attributes.type === "stop"),
  );
  if (isSlid) marks.push("slide");
  if (isGrace) marks.push("grace");
  if (tied.includes("let-ring")) marks.push("let-ring");
  if (childText(element, "notehead") === "x") marks.push("dead");
  if (inTechnical("harmonic")) marks.push("harmonic");
  const string = wholeIn(inTechnical("string"), 1, 6);
  const fret = wholeIn(inTechnical("fret"), 0, 36);
  const pluck = inTechnical("pluck")?.text.trim().toLowerCase() ?? "";
  const left = inTechnical("fingering")?.text.trim() ?? "";
  return {
    onsetQuarters: onset,
    quarters: isGrace ? graceQuarters(element) : quarters,
    releaseQuarters: Number(element.attributes.release ?? 0) / state.divisions || 0,
    midi: midiOf(element, state),
    string,
    fret: string === undefined ? undefined : fret,
    finger: isPickFinger(pluck) ? pluck : undefined,
    leftFinger: /^[0-4]$/.test(left) ? (Number(left) as LeftFinger) : undefined,
    marks,
    tieStart: ties.includes("start") || tied.includes("start"),
    tieStop: ties.includes("stop") || tied.includes("stop"),
    staff: childNumber(element, "staff") ?? 1,
    line: element.line,
  };
}

/** Written value of a grace note in quarters, by its type. */
function graceQuarters(element: XmlElement): number {
  const types = ["whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th"];
  const idx = types.indexOf(childText(element, "type") ?? "32nd");
  return 4 / 2 ** (idx < 0 ? 5 : idx);
}

function wholeIn(element: XmlElement | undefined, low: number, high: number): number | undefined {
  if (!element) return undefined;
  const value = Number(element.text.trim());
  if (!/^\d+$/.test(element.text.trim()) || value < low || value > high)
    return fail(
      element,
      `<${element.name}> must be ${low} to ${high}; found "${element.text.trim().slice(0, 20)}"`,
    );
  return value;
}

function midiOf(element: XmlElement, state: State): number | undefined {
  const pitch = child(element, "pitch");
  if (!pitch) return undefined;
  const letter = LETTERS[childText(pitch, "step") ?? ""];
  const octave = childNumber(pitch, "octave");
  if (letter === undefined || octave === undefined)
    return fail(pitch, "<pitch> needs <step> A to G and <octave>");
  const midi = Math.round(letter + (childNumber(pitch, "alter") ?? 0)) + 12 * (octave + 1) + state.transpose;
  return midi >= 0 && midi <= 127 ? midi : fail(pitch, `pitch ${midi} is outside of 0 to 127`);
}
