/** Edits of chords and of what stands at the head of a sheet. */
import { PulgarError } from "../base/errors.js";
import type { ModeName } from "../harmony/harmony.js";
import { BEAT_TICKS, barTicks } from "./bar-time.js";
import { rootAndBass } from "./chord-name.js";
import { MODE_NAMES } from "./mode-name.js";
import type { HandSet, Sheet, SheetChord } from "./sheet.js";

export type ChordEdit =
  | { kind: "rename-chord"; bar: number; beat: number; symbol: string }
  | { kind: "delete-chord"; bar: number; beat: number };
export type HeadEdit =
  | { kind: "set-title"; title: string }
  | { kind: "set-composer"; composer: string }
  | { kind: "set-mode"; tonic: string; mode: ModeName };

/** Longest chord symbol, and longest title, that a hand may write. */
const MOST_SYMBOL = 40;
const MOST_TITLE = 200;

/** A chord named anew (or added where none was), or taken out and remembered. @throws PulgarError "bad-usage" */
export function editChord(sheet: Sheet, edit: ChordEdit): Sheet {
  const isThere = (c: { bar: number; beat: number }): boolean =>
    c.bar === edit.bar && Math.abs(c.beat - edit.beat) * BEAT_TICKS < 0.5;
  const known = sheet.chords.find(isThere);
  if (edit.kind === "delete-chord") {
    if (!known) throw new PulgarError("bad-usage", `bar ${edit.bar}: there is no such chord`, "Look again.");
    const removedChords = [...(sheet.removedChords ?? []), { bar: edit.bar, beat: known.beat }];
    return { ...sheet, chords: sheet.chords.filter((c) => c !== known), removedChords };
  }
  const symbol = edit.symbol.replace(/\s+/g, "").replace(/\?+$/, "");
  const beats = barTicks(sheet, edit.bar) / BEAT_TICKS;
  const isPlace = edit.bar >= 0 && edit.bar <= sheet.grid.barCount && edit.beat >= 1 && edit.beat < 1 + beats;
  if (symbol === "" || symbol.length > MOST_SYMBOL || !isPlace)
    throw new PulgarError(
      "bad-usage",
      `bar ${edit.bar} beat ${edit.beat}: "${edit.symbol.slice(0, MOST_SYMBOL)}" cannot be set there`,
      "Give a chord such as Am7 or G/A within the bar, or delete the chord.",
    );
  const fresh: SheetChord = {
    ...(known ?? { bar: edit.bar, beat: edit.beat }),
    symbol,
    ...rootAndBass(symbol),
    confidence: 1,
    alternatives: (known ? [known.symbol, ...known.alternatives] : []).filter((s) => s !== symbol),
    by: "hand",
  };
  const chords = [...sheet.chords.filter((c) => c !== known), fresh].sort(
    (a, b) => a.bar - b.bar || a.beat - b.beat,
  );
  const removedChords = (sheet.removedChords ?? []).filter((c) => !isThere(c));
  const { removedChords: _before, ...rest } = sheet;
  return { ...rest, chords, ...(removedChords.length > 0 ? { removedChords } : {}) };
}

/** The sheet with a part noted as set by hand. */
export const withHandSet = (sheet: Sheet, part: HandSet): Sheet => ({
  ...sheet,
  handSet: [...new Set([...(sheet.handSet ?? []), part])],
});

/** Title, composer or mode set by hand. @throws PulgarError "bad-usage" */
export function editHead(sheet: Sheet, edit: HeadEdit): Sheet {
  switch (edit.kind) {
    case "set-title":
      return withHandSet(
        { ...sheet, title: edit.title.replace(/\s+/g, " ").trim().slice(0, MOST_TITLE) },
        "title",
      );
    case "set-composer":
      return withHandSet(
        { ...sheet, composer: edit.composer.replace(/\s+/g, " ").trim().slice(0, MOST_TITLE) },
        "composer",
      );
    case "set-mode": {
      const { tonic, mode } = edit;
      if (!/^[A-G][#b]?$/.test(tonic) || !MODE_NAMES.includes(mode))
        throw new PulgarError(
          "bad-usage",
          `"${tonic} ${mode}" is no mode`,
          "Give a tonic and a mode, such as A mixolydian.",
        );
      const before = sheet.mode;
      const candidates = (before?.candidates ?? []).filter((c) => c.tonic !== tonic || c.mode !== mode);
      return withHandSet(
        {
          ...sheet,
          mode: {
            tonic,
            mode,
            confidence: 1,
            candidates: [
              { tonic, mode, probability: 1 },
              ...candidates.map((c) => ({ ...c, probability: 0 })),
            ],
            undecided: [],
            evidence: before?.tonic === tonic && before.mode === mode ? before.evidence : [],
            parentScale: before?.tonic === tonic && before.mode === mode ? before.parentScale : "",
            improvise: [`${tonic} ${mode}`],
          },
        },
        "mode",
      );
    }
  }
}
