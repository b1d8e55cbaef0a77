/** A SHEET file of any kind → a sheet, or pitches that need strings. In: bytes and the file's name (for messages, and where the content leaves a doubt).
 * The content decides: ZIP, MIDI, XML, JSON, else text. Cannot: read other programs' own formats. */
import { PulgarError } from "../base/errors.js";
import { decodeText } from "./decode-text.js";
import { sheetFromText } from "./parse.js";
import { readSheetJson } from "./read-json.js";
import { pitchesFromMidi } from "./read-midi.js";
import { type ReadSheet, sheetFromMusicXml } from "./read-musicxml.js";
import { scoreTextFromMxl } from "./read-mxl.js";

const MOST_BYTES = 64 * 1024 * 1024;
const ACCEPTED =
  "A sheet is our own text or JSON, six-line tab, MusicXML (.musicxml, .mxl) or a Standard MIDI File.";

/** @throws PulgarError "empty-file", "too-large", "bad-json", "bad-sheet", "bad-tab", "bad-xml", "bad-midi", "no-notes"; the message begins with the file's name */
export function readSheet(bytes: Uint8Array, fileName: string): ReadSheet {
  try {
    return withTitle(readBytes(bytes), fileName);
  } catch (e) {
    if (!(e instanceof PulgarError) || e.message.startsWith(fileName)) throw e;
    throw new PulgarError(e.code, `${fileName}: ${e.message}`, e.hint, e.cause);
  }
}

function readBytes(bytes: Uint8Array): ReadSheet {
  if (bytes.length === 0) throw new PulgarError("empty-file", "the file is empty", ACCEPTED);
  if (bytes.length > MOST_BYTES)
    throw new PulgarError("too-large", `${bytes.length} bytes; a sheet has at most ${MOST_BYTES}`, ACCEPTED);
  const magic = String.fromCharCode(...bytes.subarray(0, 4));
  if (magic === "PK\u0003\u0004") return sheetFromMusicXml(scoreTextFromMxl(bytes));
  if (magic === "MThd" || magic === "RIFF") return pitchesFromMidi(midiChunk(bytes, magic));
  const text = decodeText(bytes);
  if (text.slice(0, 4000).includes("\u0000"))
    throw new PulgarError("bad-tab", "neither text, MusicXML nor MIDI", ACCEPTED);
  const start = text.replace(/^\uFEFF?\s*/, "").slice(0, 1);
  if (start === "<") return sheetFromMusicXml(text);
  if (start === "{" || /^\uFEFF?\s*\[\s*[\]{"\d]/.test(text))
    return { kind: "tab", sheet: readSheetJson(parseJson(text)), findings: [] };
  return { kind: "tab", ...sheetFromText(text) };
}

/** A MIDI file inside RIFF ("RMID") is unpacked; other RIFF files are sound. */
function midiChunk(bytes: Uint8Array, magic: string): Uint8Array {
  if (magic === "MThd") return bytes;
  const at = String.fromCharCode(...bytes.subarray(8, 12)) === "RMID" ? 20 : -1;
  if (at < 0)
    throw new PulgarError(
      "bad-tab",
      "a recording, where a sheet was asked for",
      `${ACCEPTED} Are the two file names in the right order?`,
    );
  return bytes.subarray(at);
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text.replace(/^\uFEFF/, ""));
  } catch (e) {
    throw new PulgarError(
      "bad-json",
      `not JSON (${(e as Error).message})`,
      "Take the file from a backup, or draft the sheet again.",
      e,
    );
  }
}

/** A sheet without a title takes the file's name. */
function withTitle(read: ReadSheet, fileName: string): ReadSheet {
  const stem = (fileName.split(/[\\/]/).at(-1) ?? "").replace(/\.[^.]*$/, "");
  if (read.kind === "pitches") return read.title === "" ? { ...read, title: stem } : read;
  return read;
}
