/** A chord symbol as a MusicXML harmony element, and where it stands. */
import type { SheetChord } from "../sheet/sheet.js";
import { CHORD_KINDS } from "./chord-kind-table.js";
import { el, type XmlNode } from "./xml.js";

/** Letter and alteration of a spelled root such as "F#" or "Bb"; undefined for what is none. */
function splitRoot(name: string): { step: string; alter: number } | undefined {
  const match = /^([A-G])([#b♯♭]*)/.exec(name);
  if (!match?.[1]) return undefined;
  let alter = 0;
  for (const sign of match[2] ?? "") alter += sign === "#" || sign === "♯" ? 1 : -1;
  return { step: match[1], alter };
}

/** What stands between root and slash: "m7" of "F#m7/E". */
function suffixOf(symbol: string): string {
  const rest = symbol.replace(/^[A-G][#b♯♭]*/, "");
  const slash = /\/[A-G][#b♯♭]*$/.exec(rest);
  return slash ? rest.slice(0, slash.index) : rest;
}

/** The harmony element. `kind` carries the printed suffix in its text, so that the symbol reads back letter for letter;
 * a suffix that the table lacks is kind "other" with that text.
 * @param offsetTicks ticks after the place in the measure where the element is written */
export function harmonyXml(chord: SheetChord, offsetTicks: number, staff: number | undefined): XmlNode {
  const offset = offsetTicks > 0 ? el("offset", {}, offsetTicks) : undefined;
  const staffNode = staff === undefined ? undefined : el("staff", {}, staff);
  const root = splitRoot(chord.symbol);
  if (!root) {
    // "N.C.": a root must be given by the schema; its text is empty so that only the kind's text is printed.
    return el("harmony", {}, [
      el("root", {}, [el("root-step", { text: "" }, "C")]),
      el("kind", { text: chord.symbol }, "none"),
      offset,
      staffNode,
    ]);
  }
  const suffix = suffixOf(chord.symbol);
  const row = CHORD_KINDS.find((r) => r.suffix === suffix);
  const slash = /\/([A-G][#b♯♭]*)$/.exec(chord.symbol);
  const bass = slash?.[1] ? splitRoot(slash[1]) : undefined;
  return el("harmony", {}, [
    el("root", {}, [
      el("root-step", {}, root.step),
      root.alter === 0 ? undefined : el("root-alter", {}, root.alter),
    ]),
    el("kind", { text: suffix }, row?.kind ?? "other"),
    bass &&
      el("bass", {}, [
        el("bass-step", {}, bass.step),
        bass.alter === 0 ? undefined : el("bass-alter", {}, bass.alter),
      ]),
    ...(row?.degrees ?? []).map(([value, alter, type]) =>
      el("degree", { "print-object": "no" }, [
        el("degree-value", {}, value),
        el("degree-alter", {}, alter),
        el("degree-type", {}, type),
      ]),
    ),
    offset,
    staffNode,
  ]);
}
