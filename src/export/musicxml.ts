/** Sheet → MusicXML 4.0, partwise.
 * In: a sheet (bars, ticks, strings, frets, letters, chords). Out: an ExportFile, `.musicxml` or `.mxl`.
 * A six-line TAB staff with tuning and capo; before it, if asked, a notation staff in the octave treble clef. Pitches are sounding.
 * One division is one tick. A length that no single value writes is tied within its bar: a tie inside a bar is one longer note, a tie over a
 * bar line is a note of its own (the sheet's mark "tie"). A string that rings past the next note of its voice is written to that note,
 * and the rest of its length stands in the standard attribute `release`.
 * Source: W3C MusicXML 4.0 (schema and reference). What it does not keep: exact times, confidence, alternatives, the pattern, the reasons for the mode.
 * Cannot: quintuplets; they come out as tied thirds. */
import { zipSync } from "fflate";
import type { Sheet } from "../sheet/sheet.js";
import { barNumbers, barTicks, chordsByBar, joinsOf, notesByBar } from "./bars.js";
import type { ExportFile } from "./export-file.js";
import { fileNameOf } from "./file-name.js";
import { harmonyXml } from "./harmony-xml.js";
import { type StaffView, voicePieces } from "./note-xml.js";
import { headDirections, leftBarline, rehearsalDirection, rightBarline } from "./signs-xml.js";
import { shiftFifths, signatureFifths, spellPitch } from "./spelling.js";
import { assignVoices, oneLine, type Voice } from "./voices.js";
import { el, writeXml, type XmlNode } from "./xml.js";

/** @property notationStaff adds a five-line staff above the TAB staff
 * @property print for the handout's engraver: pages break before these bars, and what the page draws itself (chords, letters, tempo) is left out */
export type MusicXmlOptions = { notationStaff?: boolean; print?: { breakBeforeBars: ReadonlySet<number> } };

const DOCTYPE =
  '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n' +
  '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n';

/** Name of the field that holds tonic and mode as we say them ("A harmonic minor"); read by src/sheet/musicxml-head.ts. */
const MODE_FIELD = "tonic and mode";

/** MusicXML 4.0 as a `.musicxml` file. */
export function toMusicXml(sheet: Sheet, options: MusicXmlOptions = {}): ExportFile {
  return {
    fileName: fileNameOf(sheet, "musicxml"),
    mediaType: "application/vnd.recordare.musicxml+xml",
    bytes: new TextEncoder().encode(musicXmlText(sheet, options)),
  };
}

/** The same, compressed (`.mxl`): a ZIP with a container that names the score. */
export function toMxl(sheet: Sheet, options: MusicXmlOptions = {}): ExportFile {
  const text = new TextEncoder();
  const container = writeXml(
    el("container", {}, [
      el("rootfiles", {}, [
        el("rootfile", {
          "full-path": "score.musicxml",
          "media-type": "application/vnd.recordare.musicxml+xml",
        }),
      ]),
    ]),
  );
  const mtime = new Date(1980, 0, 1); // the earliest a ZIP can say: the same sheet gives the same bytes
  const bytes = zipSync(
    {
      mimetype: [text.encode("application/vnd.recordare.musicxml"), { level: 0, mtime }],
      "META-INF/container.xml": [
        text.encode(`<?xml version="1.0" encoding="UTF-8"?>\n${container}`),
        { mtime },
      ],
      "score.musicxml": [text.encode(musicXmlText(sheet, options)), { mtime }],
    },
    { mtime },
  );
  return { fileName: fileNameOf(sheet, "mxl"), mediaType: "application/vnd.recordare.musicxml", bytes };
}

/** The document as text. */
export function musicXmlText(sheet: Sheet, options: MusicXmlOptions = {}): string {
  const bars = barNumbers(sheet);
  const byBar = notesByBar(sheet);
  const chords = chordsByBar(sheet);
  const keyFifths = sheet.mode ? signatureFifths(sheet.mode.tonic, sheet.mode.mode) : 0;
  const views = staffViews(sheet, keyFifths, options);
  const { print } = options;
  const numbers = bars.length === 0 ? [1] : bars;
  const measures = numbers.map((bar) => {
    const ticks = barTicks(sheet, bar);
    const inBar = byBar.get(bar) ?? [];
    const voicesOf = (view: StaffView): Voice[] =>
      print && view.tab ? oneLine(inBar, ticks) : assignVoices(inBar, ticks);
    const content: XmlNode[] = [];
    if (print?.breakBeforeBars.has(bar)) content.push(el("print", { "new-page": "yes" }));
    const left = leftBarline(sheet, bar);
    if (left) content.push(left);
    if (bar === numbers[0])
      content.push(
        attributesNode(sheet, views[0]?.keyFifths ?? 0, views.length),
        ...(print ? [] : headDirections(sheet)),
      );
    const rehearsal = print ? undefined : rehearsalDirection(sheet, bar);
    if (rehearsal) content.push(rehearsal);
    content.push(...barContent(voicesOf, views, ticks, print ? [] : (chords.get(bar) ?? [])));
    const right = rightBarline(sheet, bar, bar === numbers.at(-1));
    if (right) content.push(right);
    return el("measure", { number: bar, implicit: bar === 0 ? "yes" : undefined }, content);
  });
  return (
    DOCTYPE +
    writeXml(
      el("score-partwise", { version: "4.0" }, [
        ...headNodes(sheet, print !== undefined),
        el("part", { id: "P1" }, measures),
      ]),
    )
  );
}

function staffViews(sheet: Sheet, keyFifths: number, options: MusicXmlOptions): StaffView[] {
  const joins = joinsOf(sheet.notes);
  const base = {
    meter: sheet.grid.meter,
    barTicks: 0,
    keyFifths,
    joins,
    pitchShift: 0,
    forPrint: options.print !== undefined,
  };
  const tab = { ...base, tab: true, staff: undefined, firstVoice: 1 };
  if (!options.notationStaff) return [tab];
  const pitchShift = options.print ? -sheet.capo : 0;
  const shownFifths = shiftFifths(keyFifths, pitchShift);
  return [
    { ...base, tab: false, staff: 1, firstVoice: 1, pitchShift, keyFifths: shownFifths },
    { ...tab, staff: 2, firstVoice: 11 },
  ];
}

function barContent(
  voicesOf: (view: StaffView) => readonly Voice[],
  views: readonly StaffView[],
  ticks: number,
  chords: ReturnType<typeof chordsByBar> extends Map<number, infer V> ? V : never,
): XmlNode[] {
  const nodes: XmlNode[] = [];
  let isFirst = true;
  for (const view of views) {
    for (const voice of voicesOf(view)) {
      if (!isFirst) nodes.push(el("backup", {}, [el("duration", {}, ticks)]));
      const pieces = voicePieces(voice, { ...view, barTicks: ticks });
      for (const [idx, piece] of pieces.entries()) {
        const endTick =
          idx === pieces.length - 1 ? Number.POSITIVE_INFINITY : piece.startTick + piece.lengthTicks;
        if (isFirst)
          for (const { tick, chord } of chords)
            if (tick >= piece.startTick && tick < endTick)
              nodes.push(harmonyXml(chord, tick - piece.startTick, view.staff));
        nodes.push(...piece.nodes);
      }
      isFirst = false;
    }
  }
  return nodes;
}

function headNodes(sheet: Sheet, forPrint: boolean): XmlNode[] {
  return [
    sheet.title ? el("work", {}, [el("work-title", {}, sheet.title)]) : undefined,
    el("identification", {}, [
      sheet.composer ? el("creator", { type: "composer" }, sheet.composer) : undefined,
      el("encoding", {}, [
        el("software", {}, "pulgar"),
        ...["accidental", "beam", "stem"].map((element) =>
          el("supports", { element, type: element === "accidental" ? "no" : "yes" }),
        ),
      ]),
      // The standard's modes know no harmonic or melodic minor, and its signatures no tonic of eight flats.
      sheet.mode &&
        el("miscellaneous", {}, [
          el("miscellaneous-field", { name: MODE_FIELD }, `${sheet.mode.tonic} ${sheet.mode.mode}`),
        ]),
    ]),
    el("part-list", {}, [
      el("score-part", { id: "P1" }, [
        el("part-name", {}, forPrint ? "" : "Guitar"),
        forPrint ? undefined : el("part-abbreviation", {}, "Gtr."),
        el("score-instrument", { id: "P1-I1" }, [el("instrument-name", {}, "Acoustic guitar")]),
        // MIDI programs count from 1 in MusicXML: 26 is General MIDI's steel-string acoustic guitar.
        el("midi-instrument", { id: "P1-I1" }, [el("midi-channel", {}, 1), el("midi-program", {}, 26)]),
      ]),
    ]),
  ].filter((node) => node !== undefined);
}

function attributesNode(sheet: Sheet, keyFifths: number, staffCount: number): XmlNode {
  const number = staffCount > 1 ? 2 : undefined;
  const tunings = sheet.openMidi.map((midi, idx) => {
    const pitch = spellPitch(midi, 0);
    return el("staff-tuning", { line: idx + 1 }, [
      el("tuning-step", {}, pitch.step),
      pitch.alter === 0 ? undefined : el("tuning-alter", {}, pitch.alter),
      el("tuning-octave", {}, pitch.octave),
    ]);
  });
  return el("attributes", {}, [
    el("divisions", {}, 6 * sheet.grid.meter.unit), // ticks of a quarter: 24 · unit / 4
    sheet.mode
      ? el("key", {}, [
          el("fifths", {}, keyFifths),
          el("mode", {}, /minor/.test(sheet.mode.mode) ? "minor" : sheet.mode.mode),
        ])
      : el("key", {}, [el("fifths", {}, 0)]),
    el("time", {}, [el("beats", {}, sheet.grid.meter.beats), el("beat-type", {}, sheet.grid.meter.unit)]),
    staffCount > 1 ? el("staves", {}, staffCount) : undefined,
    staffCount > 1
      ? el("clef", { number: 1 }, [el("sign", {}, "G"), el("line", {}, 2), el("clef-octave-change", {}, -1)])
      : undefined,
    el("clef", { number }, [el("sign", {}, "TAB"), el("line", {}, 5)]),
    el("staff-details", { number }, [
      el("staff-lines", {}, 6),
      ...tunings,
      sheet.capo > 0 ? el("capo", {}, sheet.capo) : undefined,
    ]),
  ]);
}
