/** One voice of one bar as MusicXML note elements. */
import type { Meter } from "../grid/grid.js";
import type { SheetNote } from "../sheet/sheet.js";
import { beamWords } from "./beams.js";
import { NOTE_TYPES, quarterTicks, spellSpan, tripletBeats, type WrittenValue } from "./rhythm.js";
import { spellPitch } from "./spelling.js";
import type { Chord, Voice } from "./voices.js";
import { el, type XmlNode } from "./xml.js";

/** Marks that join a note to a neighbour on its string: set on the element where the join starts. */
export type Joins = ReadonlyMap<SheetNote, { tie: boolean; slurTo: SheetNote | undefined }>;

/** What a voice is written for.
 * @property tab true for the six-line staff, false for the notation staff
 * @property pitchShift semitones added to the sounding pitch as printed (notation at the capo) */
export type StaffView = {
  meter: Meter;
  barTicks: number;
  keyFifths: number;
  staff: number | undefined;
  tab: boolean;
  pitchShift: number;
  joins: Joins;
  firstVoice: number;
  /** For the handout: notes carry ids, fingers and letters are left to the page, rests of the TAB staff are hidden. */
  forPrint: boolean;
};

/** Id of a note for the engraver, found again in its drawing. */
export const printId = (note: SheetNote, tab: boolean): string =>
  `${tab ? "t" : "n"}-${note.bar}-${note.tick}-${note.string}`;

/** A place in the bar where an element may be put in front, and the elements of it. */
export type Piece = { startTick: number; lengthTicks: number; nodes: XmlNode[] };

type Item = { value: WrittenValue; chord: Chord | undefined; isFirst: boolean; isLast: boolean };

/** The voice from the bar's first tick to its last: chords, rests between, ties where one value does not do. */
export function voicePieces(voice: Voice, view: StaffView): Piece[] {
  const items = fillBar(voice, view);
  const beams = beamWords(
    items.map(({ value, chord }) => ({ value, isRest: chord === undefined })),
    view.meter,
  );
  return items.map((item, idx) => {
    const nodes = item.chord
      ? chordNodes(item, item.chord, voice, view, beams[idx] ?? [], tupletEdge(items, idx))
      : [restNode(item.value, voice, view, tupletEdge(items, idx))];
    const graces = item.chord && item.isFirst ? item.chord.graces.map((g) => graceNode(g, voice, view)) : [];
    return {
      startTick: item.value.startTick,
      lengthTicks: item.value.lengthTicks,
      nodes: [...graces, ...nodes],
    };
  });
}

function fillBar(voice: Voice, view: StaffView): Item[] {
  const bounds: number[] = [];
  for (const chord of voice.chords)
    bounds.push(chord.tick, Math.min(chord.tick + chord.lengthTicks, view.barTicks));
  const triplets = tripletBeats(bounds);
  const items: Item[] = [];
  const rest = (from: number, to: number): void => {
    for (const value of spellSpan(from, to, view.meter, triplets, true))
      items.push({ value, chord: undefined, isFirst: true, isLast: true });
  };
  let tick = 0;
  for (const chord of voice.chords) {
    const endTick = Math.min(chord.tick + chord.lengthTicks, view.barTicks);
    if (endTick <= chord.tick) continue;
    rest(tick, chord.tick);
    const values = spellSpan(chord.tick, endTick, view.meter, triplets);
    for (const [idx, value] of values.entries())
      items.push({ value, chord, isFirst: idx === 0, isLast: idx === values.length - 1 });
    tick = endTick;
  }
  rest(tick, view.barTicks);
  return items;
}

/** Start or stop of the bracket over a beat divided in three. */
function tupletEdge(items: readonly Item[], idx: number): ("start" | "stop")[] {
  const value = items[idx]?.value;
  if (!value?.triplet) return [];
  const beat = Math.floor(value.startTick / 24);
  const inBeat = (k: number): boolean => {
    const other = items[k]?.value;
    return other?.triplet === true && Math.floor(other.startTick / 24) === beat;
  };
  const edges: ("start" | "stop")[] = [];
  if (!inBeat(idx - 1)) edges.push("start");
  if (!inBeat(idx + 1)) edges.push("stop");
  return edges;
}

const durationNodes = (value: WrittenValue): XmlNode[] => [
  el("type", {}, value.type),
  ...Array.from({ length: value.dots }, () => el("dot", {})),
];

const modification = (value: WrittenValue): XmlNode | undefined =>
  value.triplet
    ? el("time-modification", {}, [el("actual-notes", {}, 3), el("normal-notes", {}, 2)])
    : undefined;

function restNode(value: WrittenValue, voice: Voice, view: StaffView, edges: readonly string[]): XmlNode {
  const isWholeBar = value.startTick === 0 && value.lengthTicks === view.barTicks;
  const hidden = (voice.voice === 2 && isWholeBar) || (view.forPrint && view.tab);
  return el("note", { "print-object": hidden ? "no" : undefined }, [
    el("rest", { measure: isWholeBar ? "yes" : undefined }),
    el("duration", {}, value.lengthTicks),
    el("voice", {}, view.firstVoice + voice.voice - 1),
    ...(isWholeBar ? [] : durationNodes(value)),
    modification(value),
    view.staff === undefined ? undefined : el("staff", {}, view.staff),
    edges.length === 0
      ? undefined
      : el(
          "notations",
          {},
          edges.map((type) => el("tuplet", { type })),
        ),
  ]);
}

function chordNodes(
  item: Item,
  chord: Chord,
  voice: Voice,
  view: StaffView,
  beams: readonly string[],
  edges: readonly string[],
): XmlNode[] {
  const notes = [...chord.notes].sort((a, b) => b.string - a.string);
  return notes.map((note, idx) => {
    // Tab in print shows when a string is plucked; only a tie that the sheet itself has is drawn.
    const joinsPieces = !(view.forPrint && view.tab);
    const tieStop = (!item.isFirst && joinsPieces) || (item.isFirst && note.marks.includes("tie"));
    const tieStart = (!item.isLast && joinsPieces) || (item.isLast && (view.joins.get(note)?.tie ?? false));
    return noteNode(note, {
      view,
      value: item.value,
      inChord: idx > 0,
      voice,
      beams: idx === 0 ? beams : [],
      edges: idx === 0 ? edges : [],
      tieStart,
      tieStop,
      isFirst: item.isFirst,
      isLast: item.isLast,
      releaseTicks: item.isLast && view.tab ? note.lengthTicks - chord.lengthTicks : 0,
    });
  });
}

function graceNode(note: SheetNote, voice: Voice, view: StaffView): XmlNode {
  const quarter = quarterTicks(view.meter);
  let best: (typeof NOTE_TYPES)[number] = "16th";
  let bestError = Number.POSITIVE_INFINITY;
  for (const [idx, type] of NOTE_TYPES.entries()) {
    const error = Math.abs((quarter * 4) / 2 ** idx - note.lengthTicks);
    if (error < bestError) {
      best = type;
      bestError = error;
    }
  }
  const value = { startTick: note.tick, lengthTicks: 0, type: best, dots: 0, triplet: false };
  return noteNode(note, {
    view,
    value,
    inChord: false,
    voice,
    beams: [],
    edges: [],
    tieStart: false,
    tieStop: false,
    isFirst: true,
    isLast: true,
    releaseTicks: 0,
  });
}

type NoteParts = {
  view: StaffView;
  value: WrittenValue;
  inChord: boolean;
  voice: Voice;
  beams: readonly string[];
  edges: readonly string[];
  tieStart: boolean;
  tieStop: boolean;
  isFirst: boolean;
  isLast: boolean;
  /** How much longer (or shorter) the string sounds than it is written; MusicXML's attribute `release`. */
  releaseTicks: number;
};

function noteNode(note: SheetNote, parts: NoteParts): XmlNode {
  const { view, value, voice } = parts;
  const pitch = spellPitch(note.midi + view.pitchShift, view.keyFifths);
  const isGrace = note.marks.includes("grace");
  const ties = isGrace
    ? []
    : [
        parts.tieStop ? el("tie", { type: "stop" }) : undefined,
        parts.tieStart ? el("tie", { type: "start" }) : undefined,
      ];
  const notations = notationNodes(note, parts);
  const release = parts.releaseTicks === 0 || view.forPrint ? undefined : parts.releaseTicks;
  const id = view.forPrint && parts.isFirst ? printId(note, view.tab) : undefined;
  return el("note", { release, id }, [
    isGrace ? el("grace", { slash: "yes" }) : undefined,
    parts.inChord ? el("chord", {}) : undefined,
    el("pitch", {}, [
      el("step", {}, pitch.step),
      pitch.alter === 0 ? undefined : el("alter", {}, pitch.alter),
      el("octave", {}, pitch.octave),
    ]),
    isGrace ? undefined : el("duration", {}, value.lengthTicks),
    ...ties,
    el("voice", {}, view.firstVoice + voice.voice - 1),
    ...durationNodes(value),
    modification(value),
    el("stem", {}, voice.isLow ? "down" : "up"),
    note.marks.includes("dead") ? el("notehead", {}, "x") : undefined,
    view.staff === undefined ? undefined : el("staff", {}, view.staff),
    ...parts.beams.map((word, idx) => el("beam", { number: idx + 1 }, word)),
    notations.length === 0 ? undefined : el("notations", {}, notations),
  ]);
}

function notationNodes(note: SheetNote, parts: NoteParts): XmlNode[] {
  const { view } = parts;
  const isGrace = note.marks.includes("grace");
  const nodes: XmlNode[] = [];
  if (parts.tieStop && !isGrace) nodes.push(el("tied", { type: "stop" }));
  if (parts.tieStart && !isGrace) nodes.push(el("tied", { type: "start" }));
  if (parts.isLast && note.marks.includes("let-ring")) nodes.push(el("tied", { type: "let-ring" }));
  for (const type of parts.edges) nodes.push(el("tuplet", { type }));
  const target = parts.isLast ? view.joins.get(note)?.slurTo : undefined;
  const slide = { number: note.string, "line-type": "solid" };
  if (parts.isFirst && note.marks.includes("slide")) nodes.push(el("slide", { type: "stop", ...slide }));
  if (target?.marks.includes("slide")) nodes.push(el("slide", { type: "start", ...slide }));
  const technical = technicalNodes(note, parts, target);
  if (technical.length > 0) nodes.push(el("technical", {}, technical));
  return nodes;
}

function technicalNodes(note: SheetNote, parts: NoteParts, target: SheetNote | undefined): XmlNode[] {
  const nodes: XmlNode[] = [];
  const withHands = parts.isFirst && !parts.view.forPrint;
  if (withHands && note.leftFinger !== undefined) nodes.push(el("fingering", {}, note.leftFinger));
  if (withHands && note.finger !== undefined) nodes.push(el("pluck", {}, note.finger));
  if (parts.view.tab) nodes.push(el("string", {}, note.string), el("fret", {}, note.fret));
  for (const [mark, letter] of [
    ["hammer-on", "H"],
    ["pull-off", "P"],
  ] as const) {
    const number = note.string;
    if (parts.isFirst && note.marks.includes(mark)) nodes.push(el(mark, { type: "stop", number }));
    if (target?.marks.includes(mark)) nodes.push(el(mark, { type: "start", number }, letter));
  }
  if (parts.isFirst && note.marks.includes("harmonic")) nodes.push(el("harmonic", {}, [el("natural", {})]));
  return nodes;
}
