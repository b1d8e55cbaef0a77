/** A second, independent reading of our MusicXML for the round-trip tests: by fast-xml-parser, from the specification's meaning of each element. */
import { XMLParser } from "fast-xml-parser";

type Node = Record<string, unknown> & { ":@"?: Record<string, string> };
type BackNote = {
  bar: number;
  tick: number;
  lengthTicks: number;
  string: number;
  fret: number;
  midi: number;
  finger?: string;
  leftFinger?: number;
  marks: string[];
};
export type Back = {
  notes: BackNote[];
  graces: BackNote[];
  chords: { bar: number; tick: number; symbol: string }[];
  tuning: number[];
  capo: number;
  title: string;
  rehearsals: [number, string][];
  swing?: number;
  tempo?: number;
  repeats: string[];
};

const parser = new XMLParser({
  preserveOrder: true,
  ignoreAttributes: false,
  attributeNamePrefix: "",
  trimValues: false,
});
const nameOf = (node: Node): string => Object.keys(node).find((k) => k !== ":@") ?? "";
const kids = (node: Node): Node[] => (node[nameOf(node)] as Node[] | undefined) ?? [];
const all = (node: Node, name: string): Node[] => kids(node).filter((k) => nameOf(k) === name);
const one = (node: Node | undefined, ...path: string[]): Node | undefined =>
  path.reduce<Node | undefined>((n, name) => (n ? all(n, name)[0] : undefined), node);
const text = (node: Node | undefined): string | undefined =>
  node
    ? kids(node)
        .map((k) => String(k["#text"] ?? ""))
        .join("")
    : undefined;
const attr = (node: Node | undefined, name: string): string | undefined => node?.[":@"]?.[name];
const STEPS: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const sign = (alter: string | undefined): string =>
  Number(alter ?? 0) > 0 ? "#".repeat(Number(alter)) : "b".repeat(-Number(alter ?? 0));

export function readBack(source: string): Back {
  const score = (parser.parse(source) as Node[]).find((n) => nameOf(n) === "score-partwise") as Node;
  const back: Back = {
    notes: [],
    graces: [],
    chords: [],
    tuning: [],
    capo: 0,
    title: text(one(score, "work", "work-title")) ?? "",
    rehearsals: [],
    repeats: [],
  };
  for (const measure of all(one(score, "part") as Node, "measure")) readMeasure(measure, back);
  return back;
}

function readMeasure(measure: Node, back: Back): void {
  const bar = Number(attr(measure, "number"));
  const open = new Map<string, BackNote & { endTick: number; tied: boolean }>();
  let tick = 0;
  let chordTick = 0;
  let waiting: Node[] = [];
  for (const node of kids(measure)) {
    switch (nameOf(node)) {
      case "attributes": {
        const details = one(node, "staff-details");
        if (!details) break;
        back.tuning = all(details, "staff-tuning").map(
          (t) =>
            STEPS[text(one(t, "tuning-step")) ?? ""]! +
            Number(text(one(t, "tuning-alter")) ?? 0) +
            12 * (Number(text(one(t, "tuning-octave"))) + 1),
        );
        back.capo = Number(text(one(details, "capo")) ?? 0);
        break;
      }
      case "direction": {
        const mark = text(one(node, "direction-type", "rehearsal"));
        if (mark !== undefined) back.rehearsals.push([bar, mark]);
        const swing = one(node, "sound", "swing");
        if (swing) back.swing = Number(text(one(swing, "first"))) / Number(text(one(swing, "second")));
        const tempo = attr(one(node, "sound"), "tempo");
        if (tempo) back.tempo = Number(tempo);
        break;
      }
      case "barline": {
        const repeat = one(node, "repeat");
        const ending = one(node, "ending");
        if (ending) back.repeats.push(`${bar} ending ${attr(ending, "number")} ${attr(ending, "type")}`);
        if (repeat)
          back.repeats.push(`${bar} ${attr(repeat, "direction")} ${attr(repeat, "times") ?? ""}`.trim());
        break;
      }
      case "harmony": {
        const kind = one(node, "kind");
        const root = one(node, "root");
        const bass = one(node, "bass");
        const isNone = text(kind) === "none";
        const symbol = isNone
          ? (attr(kind, "text") ?? "")
          : `${text(one(root, "root-step"))}${sign(text(one(root, "root-alter")))}${attr(kind, "text") ?? ""}${bass ? `/${text(one(bass, "bass-step"))}${sign(text(one(bass, "bass-alter")))}` : ""}`;
        back.chords.push({ bar, tick: tick + Number(text(one(node, "offset")) ?? 0), symbol });
        break;
      }
      case "backup":
        tick -= Number(text(one(node, "duration")));
        break;
      case "forward":
        tick += Number(text(one(node, "duration")));
        break;
      case "note": {
        if (one(node, "grace")) {
          waiting.push(node);
          break;
        }
        const length = Number(text(one(node, "duration")));
        const start = one(node, "chord") ? chordTick : tick;
        if (!one(node, "chord")) {
          chordTick = tick;
          tick += length;
        }
        if (one(node, "rest")) break;
        for (const grace of waiting) back.graces.push(noteOf(grace, bar, start, 0));
        waiting = [];
        const note = noteOf(node, bar, start, length);
        const key = `${note.string} ${note.fret} ${text(one(node, "voice"))}`;
        const before = open.get(key);
        const ties = all(node, "tie").map((t) => attr(t, "type"));
        if (before?.tied && before.endTick === start && ties.includes("stop")) {
          before.lengthTicks += note.lengthTicks;
          before.endTick = start + length;
          before.tied = ties.includes("start");
          before.marks.push(...note.marks.filter((m) => m === "let-ring"));
        } else {
          const entry = { ...note, endTick: start + length, tied: ties.includes("start") };
          if (ties.includes("stop")) entry.marks.push("tie");
          open.set(key, entry);
          back.notes.push(entry);
        }
      }
    }
  }
}

function noteOf(node: Node, bar: number, tick: number, length: number): BackNote {
  const pitch = one(node, "pitch");
  const technical = all(node, "notations").flatMap((n) => all(n, "technical"))[0];
  const notations = one(node, "notations");
  const marks: string[] = [];
  for (const mark of ["hammer-on", "pull-off"])
    if (technical && all(technical, mark).some((m) => attr(m, "type") === "stop")) marks.push(mark);
  if (notations && all(notations, "slide").some((s) => attr(s, "type") === "stop")) marks.push("slide");
  if (notations && all(notations, "tied").some((s) => attr(s, "type") === "let-ring")) marks.push("let-ring");
  if (text(one(node, "notehead")) === "x") marks.push("dead");
  if (technical && one(technical, "harmonic")) marks.push("harmonic");
  const finger = text(one(technical, "pluck"));
  const left = text(one(technical, "fingering"));
  return {
    bar,
    tick,
    lengthTicks: length + Number(attr(node, "release") ?? 0),
    string: Number(text(one(technical, "string"))),
    fret: Number(text(one(technical, "fret"))),
    midi:
      STEPS[text(one(pitch, "step")) ?? ""]! +
      Number(text(one(pitch, "alter")) ?? 0) +
      12 * (Number(text(one(pitch, "octave"))) + 1),
    ...(finger === undefined ? {} : { finger }),
    ...(left === undefined ? {} : { leftFinger: Number(left) }),
    marks,
  };
}
