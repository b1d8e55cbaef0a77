/** The head of the handout: title, composer, and a line of what a player must know before the first note. */
import type { Sheet } from "../sheet/sheet.js";
import { COLORS, type Pen, withSigns, wrapText } from "./ink.js";
import { spellPitch } from "./spelling.js";

/** "A mixolydian" with printed signs, "A aeolian or dorian" where the music leaves it open; "" for a sheet without a mode. */
export function modeLabel(sheet: Sheet): string {
  if (!sheet.mode) return "";
  const { tonic, mode, undecided } = sheet.mode;
  const other = undecided[0]?.between.find((name) => name !== mode);
  return `${withSigns(tonic)} ${mode}${other === undefined ? "" : ` or ${other}`}`;
}

const TUNING_LABELS: Record<string, string> = {
  standard: "Standard tuning",
  "drop-d": "Drop D",
  dadgad: "DADGAD",
};

/** "Standard tuning (E A D G B E)". */
function tuningLabel(sheet: Sheet): string {
  const names = sheet.openMidi.map((midi) => {
    const { step, alter } = spellPitch(midi, 0);
    return step + (alter > 0 ? "♯" : alter < 0 ? "♭" : "");
  });
  const name = TUNING_LABELS[sheet.tuningName.toLowerCase()] ?? (sheet.tuningName || "Tuning");
  return `${/^([A-G][#b♯♭]?\d? ?)+$/.test(name) && name.includes(" ") ? "Tuning" : name} (${names.join(" ")})`;
}

/** Draws the head and returns its height. */
export function drawHead(pen: Pen, sheet: Sheet, x: number, y: number, width: number): number {
  const title = sheet.title || "Untitled study";
  let sizePt = 30;
  while (sizePt > 17 && pen.width(title, { face: "serif-bold", sizePt }) > width) sizePt -= 1;
  let at = y + sizePt * 0.8;
  const lines = wrapText(pen, title, { face: "serif-bold", sizePt }, width);
  for (const [idx, line] of lines.entries()) {
    if (idx > 0) at += sizePt * 1.08;
    pen.text(x, at, line, { face: "serif-bold", sizePt });
  }
  if (sheet.composer) {
    at += 17;
    pen.text(x, at, sheet.composer, { face: "serif-italic", sizePt: 12.5, color: COLORS.soft });
  }
  at += 20;
  const { meter, tempoBpm, feel } = sheet.grid;
  const compound = meter.unit === 8 && meter.beats > 3 && meter.beats % 3 === 0;
  const beat = { 2: "half note", 4: "♩", 8: "♪", 16: "sixteenth" }[meter.unit] ?? `1/${meter.unit}`;
  const tempo = compound ? `♩. = ${Math.round(tempoBpm / 3)}` : `${beat} = ${Math.round(tempoBpm)}`;
  const facts = [
    tuningLabel(sheet),
    sheet.capo > 0 ? `capo ${sheet.capo}` : "no capo",
    `${meter.beats}/${meter.unit}`,
    tempo,
    feel === "swing" ? "swing" : "",
    modeLabel(sheet),
  ].filter((fact) => fact !== "");
  const style = { face: "sans", sizePt: 10.4 } as const;
  let fx = x;
  for (const [idx, fact] of facts.entries()) {
    const w = pen.width(fact, style);
    if (fx > x && fx + 16 + w > x + width) {
      fx = x;
      at += 15;
    } else if (idx > 0) {
      pen.circle(fx + 8, at - 3.4, 1.3, COLORS.accent);
      fx += 16;
    }
    pen.text(fx, at, fact, style);
    fx += w;
  }
  at += 10;
  pen.line(x, at, x + width, at, COLORS.accent, 1.4);
  return at - y + 2;
}
