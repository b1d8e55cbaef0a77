/** Commands and their flags as data: parsing, help, completion, the man page and the README's test all read these rows.
 * A new command is a row here and a file in commands/. */
import { PRACTICE_CAUTION } from "../src/play/caution.js";

/** @property value name of the value; a flag without one is a switch @property isList several choices with commas between them
 * @property isCommon shown in the short help */
export type FlagRow = {
  name: string;
  value?: string;
  choices?: readonly string[];
  isList?: boolean;
  summary: string;
  isCommon?: boolean;
};

export type CommandRow = {
  name: string;
  args: string;
  leastArgs: number;
  mostArgs: number;
  summary: string;
  example: string;
  flags: readonly FlagRow[];
  detail: readonly string[];
};

export const GENERAL_FLAGS: readonly FlagRow[] = [
  { name: "json", summary: "one JSON document on standard output" },
  { name: "force", summary: "replace files that are there already (never the input)" },
  { name: "quiet", summary: "no progress" },
  { name: "color", value: "WHEN", choices: ["auto", "always", "never"], summary: "auto, always or never" },
  { name: "debug", summary: "print the stack of our own errors" },
];

const TAKE_FLAGS: readonly FlagRow[] = [
  { name: "partial", summary: "use what is there of a file that was cut short" },
  { name: "runtime", value: "WHICH", choices: ["auto", "native", "wasm"], summary: "what runs the listener" },
];

const INSTRUMENT_FLAGS: readonly FlagRow[] = [
  {
    name: "tuning",
    value: "TUNING",
    summary: 'standard, drop-d, dadgad, … or "D2 A2 D3 G3 A3 D4"',
    isCommon: true,
  },
  { name: "capo", value: "N", summary: "fret of the capo", isCommon: true },
  { name: "highest-fret", value: "N", summary: "last fret of the neck (19)" },
];

const HABITS_FLAG: FlagRow = {
  name: "no-habits",
  summary: "strings and fingers without what earlier corrections taught",
};

export const COMMANDS: readonly CommandRow[] = [
  {
    name: "transcribe",
    args: "TAKE…",
    leastArgs: 1,
    mostArgs: 1000,
    summary: "draft the sheet of a recorded take",
    example: "pulgar transcribe take.mp4 --tempo 92 --meter 4/4 --tuning drop-d --out sheets",
    flags: [
      {
        name: "tempo",
        value: "BPM",
        summary: "beats a minute, counting the meter's lower number",
        isCommon: true,
      },
      { name: "dotted-tempo", value: "BPM", summary: "the same counted in dotted notes (6/8, 9/8, 12/8)" },
      { name: "meter", value: "M", summary: "such as 4/4, 3/4, 6/8", isCommon: true },
      { name: "start", value: "SEC", summary: "where bar 1 beat 1 is", isCommon: true },
      { name: "count-in", value: "BEATS", summary: "beats counted before bar 1", isCommon: true },
      {
        name: "feel",
        value: "FEEL",
        choices: ["straight", "swing"],
        summary: "straight or swing",
        isCommon: true,
      },
      {
        name: "grid",
        value: "N",
        choices: ["8", "12", "16"],
        summary: "finest step: 8, 12 (triplets) or 16",
      },
      ...INSTRUMENT_FLAGS,
      { name: "title", value: "TEXT", summary: "title of the sheet" },
      {
        name: "out",
        value: "DIR",
        summary: "folder for the sheet (default: the current one)",
        isCommon: true,
      },
      { name: "afresh", summary: "forget what was corrected by hand in the sheet that is there" },
      HABITS_FLAG,
      ...TAKE_FLAGS,
    ],
    detail: [
      "TAKE is any audio or video file, or a folder of them. Two files are written: NAME.tab.txt, the sheet to",
      "read and edit, and NAME.sheet.json, the evidence beside it. Without --tempo the tempo is estimated.",
      "With --force a sheet that is there is drafted again around your corrections: they are kept.",
    ],
  },
  {
    name: "check",
    args: "TAKE SHEET",
    leastArgs: 2,
    mostArgs: 2,
    summary: "is what is written what was played",
    example: "pulgar check take.wav study.tab.txt",
    flags: [
      { name: "tolerance", value: "MS", summary: "early and late from this many ms (80)", isCommon: true },
      {
        name: "fix",
        value: "FILE",
        summary: "write a corrected copy of the sheet, each change marked",
        isCommon: true,
      },
      ...INSTRUMENT_FLAGS,
      HABITS_FLAG,
      ...TAKE_FLAGS,
    ],
    detail: [
      "SHEET is a sheet of ours, plain six-line tab, MusicXML (.musicxml, .mxl) or a MIDI file.",
      "Exit code 0: the sheet stands. 1: it differs from the take.",
    ],
  },
  {
    name: "key",
    args: "TRACK",
    leastArgs: 1,
    mostArgs: 1,
    summary: "key or mode of a backing track, with its reasons",
    example: "pulgar key vamp.mp3",
    flags: [{ name: "partial", summary: "use what is there of a file that was cut short" }],
    detail: ["TRACK is any recording: a full band, a loop, drums and all."],
  },
  {
    name: "review",
    args: "SHEET",
    leastArgs: 1,
    mostArgs: 1,
    summary: "a local page to listen and correct",
    example: "pulgar review mixolydian-over-a.tab.txt --open",
    flags: [
      {
        name: "take",
        value: "FILE",
        summary: "the recording, where it does not lie beside the sheet",
        isCommon: true,
      },
      { name: "port", value: "N", summary: "port on 127.0.0.1 (a free one)" },
      { name: "open", summary: "open the page in the browser", isCommon: true },
      HABITS_FLAG,
    ],
    detail: ["The page is served to this machine alone and saves as you go. Ctrl-C ends it."],
  },
  {
    name: "export",
    args: "SHEET",
    leastArgs: 1,
    mostArgs: 1,
    summary: "print, open elsewhere, play",
    example: "pulgar export study.tab.txt --to pdf --out study.pdf",
    flags: [
      {
        name: "to",
        value: "FORMAT",
        choices: ["text", "musicxml", "mxl", "midi", "svg", "pdf", "wav", "json", "all"],
        isList: true,
        summary: "text, musicxml, mxl, midi, svg, pdf, wav, json; several with commas, or all",
        isCommon: true,
      },
      {
        name: "out",
        value: "FILE",
        summary: "the file, or - for standard output; a folder for several formats",
        isCommon: true,
      },
      { name: "paper", value: "SIZE", choices: ["a4", "letter"], summary: "a4 or letter", isCommon: true },
      { name: "notation", summary: "a notation staff above the tab" },
      { name: "repeats", summary: "write what comes back at once with repeat signs and endings" },
      ...INSTRUMENT_FLAGS,
      HABITS_FLAG,
    ],
    detail: [
      "A SHEET with pitches but no strings (MIDI, some MusicXML) gets strings, frets and fingers first;",
      "say the --tuning and --capo for it.",
    ],
  },
  {
    name: "practice",
    args: "SHEET",
    leastArgs: 1,
    mostArgs: 1,
    summary: "slow versions, click, count-in, backing",
    example: "pulgar practice study.tab.txt --slow 60,75,90 --out practice",
    flags: [
      { name: "slow", value: "LIST", summary: "percentages of the tempo (60,80)", isCommon: true },
      { name: "take", value: "FILE", summary: "the recording, where it does not lie beside the sheet" },
      { name: "bars", value: "A-B", summary: "only these bars, or one bar, as a loop", isCommon: true },
      { name: "part", value: "LABEL", summary: "only this section of the form, as a loop", isCommon: true },
      { name: "loops", value: "N", summary: "how often the loop is played (4)" },
      { name: "climb", value: "A-B", summary: "a series that speeds up from A to B percent, 5 a time" },
      { name: "no-click", summary: "without the click" },
      { name: "rounds", value: "N", summary: "how often the backing plays the form (4)" },
      { name: "held-bass", summary: "backing over one held bass, whatever the chords say" },
      { name: "no-held-bass", summary: "backing that moves its bass with the chords" },
      {
        name: "encode",
        value: "KIND",
        choices: ["wav", "mp3", "m4a", "ogg"],
        summary: "wav, or compressed where ffmpeg is at hand",
      },
      {
        name: "out",
        value: "DIR",
        summary: "folder for the tracks (default: NAME-practice)",
        isCommon: true,
      },
    ],
    detail: PRACTICE_CAUTION,
  },
  {
    name: "completion",
    args: "SHELL",
    leastArgs: 1,
    mostArgs: 1,
    summary: "completion script for bash, zsh or fish",
    example: "pulgar completion bash > ~/.local/share/bash-completion/completions/pulgar",
    flags: [],
    detail: [],
  },
  {
    name: "man",
    args: "",
    leastArgs: 0,
    mostArgs: 0,
    summary: "the manual page",
    example: "pulgar man | man -l -",
    flags: [],
    detail: [],
  },
];

export const EXIT_CODES: readonly (readonly [number, string])[] = [
  [0, "done"],
  [1, "done, and check found differences"],
  [2, "could not: bad usage, unreadable input, refused overwrite"],
  [3, "a bug of ours"],
  [130, "interrupted"],
];
