/** Reads the header of a text sheet. In: its lines with their numbers. Out: the parts of a sheet that the header says.
 * A value that cannot be read stops with line and column; an unknown name is kept as a remark, with a finding. */
import { PulgarError } from "../base/errors.js";
import type { Finding } from "../base/finding.js";
import type { Meter } from "../grid/grid.js";
import type { ModeGuess, ModeName, Undecided } from "../harmony/harmony.js";
import { parseNote } from "../theory/pitch.js";
import { BEAT_TICKS } from "./bar-time.js";
import { parseBeats, parseRanges } from "./beats-text.js";
import { MODE_NAMES } from "./mode-name.js";
import type { Departure, FormPart, Pattern, PatternHit, Repeat } from "./sheet.js";

/** A line of a file with its number from 1. */
export type TextLine = { text: string; lineNumber: number };

/** What the header says; defaults where it is silent: standard tuning, 4/4, 120 a minute. */
export type Header = {
  title: string;
  composer: string;
  tuningName: string;
  openMidi: number[];
  capo: number;
  tempoBpm: number;
  tempoFrom: "user" | "estimated";
  meter: Meter;
  pickupBeats: number;
  feel: "straight" | "swing";
  swingRatio: number;
  rhythm: "none" | undefined;
  showLeftHand: boolean;
  form: FormPart[];
  repeats: Repeat[];
  mode: ModeGuess | undefined;
  pattern: Pattern | undefined;
  remarks: string[];
};

export const plainHeader = (): Header => ({
  title: "",
  composer: "",
  tuningName: "standard",
  openMidi: [40, 45, 50, 55, 59, 64], // E2 A2 D3 G3 B3 E4
  capo: 0,
  tempoBpm: 120,
  tempoFrom: "estimated",
  meter: { beats: 4, unit: 4 },
  pickupBeats: 0,
  feel: "straight",
  swingRatio: 1,
  rhythm: undefined,
  showLeftHand: false,
  form: [],
  repeats: [],
  mode: undefined,
  pattern: undefined,
  remarks: [],
});

/** @throws PulgarError "bad-tab" naming line and column */
export function readHeader(lines: readonly TextLine[]): { header: Header; findings: Finding[] } {
  const header = plainHeader();
  const findings: Finding[] = [];
  const seen = new Set<string>();
  const departures: Departure[] = [];
  const wanted: Partial<ModeGuess> & { undecided: Undecided[]; evidence: string[] } = {
    undecided: [],
    evidence: [],
  };
  for (const { text, lineNumber } of lines) {
    const match = /^([A-Za-z][A-Za-z -]*?)\s*:\s*(.*?)\s*$/.exec(text);
    const name = match?.[1]?.toLowerCase() ?? "";
    const value = match?.[2] ?? "";
    const fail = (accepted: string): never => {
      throw new PulgarError(
        "bad-tab",
        `line ${lineNumber}, column ${text.length - value.length + 1}: ${name}: found "${value}"; want ${accepted}`,
        "Mend that line of the header, or take it out.",
      );
    };
    if (value === "" && match) continue;
    if (!match || !(readPlain(header, name, value, fail) || readMode(wanted, name, value, fail))) {
      if (name === "departs") departures.push(readDeparture(value) ?? fail("such as 5; lacks 2 m2"));
      else if (name === "remark") header.remarks.push(value);
      else {
        header.remarks.push(text.trim());
        findings.push({
          rule: "text-header",
          level: "warning",
          bar: 0,
          message: `line ${lineNumber}, column 1: "${text.trim().slice(0, 60)}" is no header line; it is kept as a remark`,
          hint: "Header lines are a known name, a colon and a value; a blank line ends the header.",
        });
      }
    } else if (seen.has(name) && !["why", "undecided"].includes(name)) {
      findings.push({
        rule: "text-header",
        level: "warning",
        bar: 0,
        message: `line ${lineNumber}, column 1: ${name} stands twice; the later one is taken`,
        hint: "Keep one of the two lines.",
      });
    }
    seen.add(name);
  }
  if (header.pattern) header.pattern.departures = departures;
  header.mode = modeOf(wanted);
  return { header, findings };
}

const numberIn = (text: string, low: number, high: number): number | undefined => {
  const x = /^\d{1,6}(\.\d{1,6})?$/.test(text) ? Number(text) : Number.NaN;
  return x >= low && x <= high ? x : undefined;
};

/** Reads one plain value into the header; false for a name that is not one of these. */
function readPlain(header: Header, name: string, value: string, fail: (accepted: string) => never): boolean {
  switch (name) {
    case "title":
    case "composer":
      header[name] = value;
      return true;
    case "tuning": {
      const match = /^(?:(.*?)\s*=\s*)?(\S+(?:\s+\S+){5})$/.exec(value);
      const openMidi = (match?.[2] ?? "").split(/\s+/).map(parseNote);
      const known = openMidi.filter((m) => m !== undefined);
      if (known.length !== 6) fail("a name, = and six notes from string 6 to 1, such as E2 A2 D3 G3 B3 E4");
      header.tuningName = match?.[1] || "own";
      header.openMidi = known;
      return true;
    }
    case "capo":
      header.capo = Math.round(numberIn(value, 0, 24) ?? fail("a fret, 0 to 24"));
      return true;
    case "tempo": {
      const match = /^([\d.]+)\s*(\(estimated\))?$/.exec(value);
      header.tempoBpm = numberIn(match?.[1] ?? "", 1, 1000) ?? fail("beats a minute, 1 to 1000");
      header.tempoFrom = match?.[2] ? "estimated" : "user";
      return true;
    }
    case "meter": {
      const match = /^(\d{1,2})\/(1|2|4|8|16|32)$/.exec(value);
      const beats = numberIn(match?.[1] ?? "", 1, 64);
      if (!match || beats === undefined) return fail("a meter such as 4/4 or 6/8");
      header.meter = { beats, unit: Number(match[2]) };
      return true;
    }
    case "pick-up": {
      const ticks = parseBeats(value.replace(/\s*beats?$/, ""));
      if (ticks === undefined) return fail("beats, such as 1 or 1+1/2");
      header.pickupBeats = ticks / BEAT_TICKS;
      return true;
    }
    case "feel": {
      const match = /^(?:straight|swing(?:\s+([\d.]+)(?::1)?)?)$/.exec(value);
      if (!match) return fail('"straight" or "swing 2:1"');
      header.feel = value === "straight" ? "straight" : "swing";
      header.swingRatio =
        header.feel === "straight" ? 1 : (numberIn(match[1] ?? "2", 1, 10) ?? fail("a ratio of 1 to 10"));
      return true;
    }
    case "rhythm":
      if (value !== "none") fail('"none", or take the line out');
      header.rhythm = "none";
      return true;
    case "left hand":
      header.showLeftHand = value === "shown" || (value === "hidden" ? false : fail('"shown" or "hidden"'));
      return true;
    case "form":
      header.form = value.split(";").map((part) => {
        const match = /^\s*(.*?)\s*(\d{1,5}(?:-\d{1,5})?(?:,\d{1,5}(?:-\d{1,5})?)*)\s*$/.exec(part);
        return {
          label: match?.[1] ?? "",
          bars: parseRanges(match?.[2] ?? "") ?? fail("such as A 1-4; B 5-8"),
        };
      });
      return true;
    case "repeats":
      header.repeats = value.split(";").map((part) => readRepeat(part) ?? fail("such as 1-4 x2; 5-8 x3"));
      return true;
    case "pattern":
      header.pattern = readPattern(value) ?? fail("such as 4 beats: 1 p5, 2 i3; bars 1-4");
      return true;
    default:
      return false;
  }
}

function readMode(
  wanted: Partial<ModeGuess> & { undecided: Undecided[]; evidence: string[] },
  name: string,
  value: string,
  fail: (accepted: string) => never,
): boolean {
  const modeName = (text: string): ModeName | undefined => MODE_NAMES.find((m) => m === text);
  switch (name) {
    case "mode": {
      const match = /^(\S+)\s+(.+)$/.exec(value);
      wanted.tonic = match?.[1] ?? fail("a tonic and a mode");
      wanted.mode = modeName(match?.[2] ?? "") ?? fail(`a tonic and one of ${MODE_NAMES.join(", ")}`);
      return true;
    }
    case "undecided": {
      const match = /^(.+?) or (.+?) by (.*)$/.exec(value);
      const [one, other] = [modeName(match?.[1] ?? ""), modeName(match?.[2] ?? "")];
      if (!one || !other) return fail("such as ionian or mixolydian by 7");
      wanted.undecided.push({ between: [one, other], missingDegree: match?.[3] ?? "" });
      return true;
    }
    case "parent scale":
      wanted.parentScale = value;
      return true;
    case "usage":
      wanted.usage = value === "blues" || value === "pentatonic" ? value : fail("pentatonic or blues");
      return true;
    case "improvise":
      wanted.improvise = value.split(/\s*;\s*/);
      return true;
    case "why":
      wanted.evidence.push(value);
      return true;
    default:
      return false;
  }
}

function modeOf(
  wanted: Partial<ModeGuess> & { undecided: Undecided[]; evidence: string[] },
): ModeGuess | undefined {
  const { tonic, mode, undecided, evidence } = wanted;
  if (tonic === undefined || mode === undefined) return undefined;
  return {
    tonic,
    mode,
    confidence: 1,
    candidates: [{ tonic, mode, probability: 1 }],
    undecided,
    evidence,
    ...(wanted.usage === undefined ? {} : { usage: wanted.usage }),
    parentScale: wanted.parentScale ?? "",
    improvise: wanted.improvise ?? [],
  };
}

function readRepeat(text: string): Repeat | undefined {
  const [head = "", ...rest] = text.trim().split(/\s*\/\s*/);
  const match = /^(\d{1,5})-(\d{1,5})\s+x(\d{1,2})$/.exec(head);
  if (!match) return undefined;
  const endings: Repeat["endings"] = [];
  for (const part of rest) {
    const ending = /^ending\s+([\d,-]+)\s*=\s*([\d,-]*)$/.exec(part);
    const times = parseRanges(ending?.[1] ?? "");
    const bars = ending?.[2] === "" ? [] : parseRanges(ending?.[2] ?? "");
    if (!times || !bars) return undefined;
    endings.push({ times, bars });
  }
  return { fromBar: Number(match[1]), toBar: Number(match[2]), times: Number(match[3]), endings };
}

function readHits(text: string): PatternHit[] | undefined {
  const hits: PatternHit[] = [];
  for (const part of text.split(",")) {
    if (part.trim() === "") continue;
    const match = /^(\S+)\s+([pima])([1-6])$/.exec(part.trim());
    const ticks = parseBeats(match?.[1] ?? "");
    if (!match || ticks === undefined) return undefined;
    hits.push({
      beat: ticks / BEAT_TICKS,
      finger: match[2] as PatternHit["finger"],
      string: Number(match[3]),
    });
  }
  return hits;
}

function readPattern(text: string): Pattern | undefined {
  const match = /^(\S+) beats?:([^;]*)(?:;\s*bars\s+([\d,-]+))?$/.exec(text);
  const ticks = parseBeats(match?.[1] ?? "");
  const hits = readHits(match?.[2] ?? "");
  const bars = match?.[3] === undefined ? [] : parseRanges(match[3]);
  if (!match || ticks === undefined || !hits || !bars) return undefined;
  return { beats: ticks / BEAT_TICKS, hits, bars, departures: [] };
}

function readDeparture(text: string): Departure | undefined {
  const [bar = "", ...rest] = text.split(/\s*;\s*/);
  if (!/^\d{1,5}$/.test(bar)) return undefined;
  const departure: Departure = { bar: Number(bar), missing: [], added: [], note: "" };
  for (const part of rest) {
    const match = /^(lacks|adds)\s+(.*)$/.exec(part);
    const hits = match && readHits(match[2] ?? "");
    if (hits) departure[match[1] === "lacks" ? "missing" : "added"].push(...hits);
    else departure.note = departure.note === "" ? part : `${departure.note}, ${part}`;
  }
  return departure;
}
