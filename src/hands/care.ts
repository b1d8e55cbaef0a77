// Care for the hands.
// In: fretted notes and the instrument. Out: findings that name wide stretches, grips that one hand can't hold, long barres and
// long playing without a rest, each with a short caution.
// Sources: fret formula (reach.ts); hand spans of Boyle, Boyle & Booker 2015 (reach.ts); Zaza 1998, CMAJ 158(8): pain from
// playing is common among musicians (from memory). Lengths of time: common practice, no published source.
// Can't: know the player's hand, wrist or history; it points to a teacher or a clinician instead.
import type { Finding } from "../base/finding.js";
import { HAND_WEIGHTS } from "./cost-table.js";
import { fingeringsOf } from "./fingerings.js";
import type { FrettedNote, Instrument } from "./fretted.js";
import { neckMm, REACH_MM } from "./reach.js";

const CARE_DEFAULTS = Object.freeze({
  stretchMm: REACH_MM.natural[3] ?? 105, // more than one finger a fret in first position (98 mm), short of the most that is playable
  restSec: 1.5, // a gap in which a hand can let go
  longPlayingSec: 120, // so long without such a gap is named
  longBarreSec: 20, // a barre held or taken again for so long without a gap is named
});

const CAUTION = "Rest often, stop if it hurts, and ask a teacher or a clinician when it does not pass.";

/** One grip as it is struck. */
type Struck = { bar: number; onsetSec: number; notes: FrettedNote[] };

/** What to be careful about, one finding a kind of grip, in the order of bars.
 * Rules: `wide-stretch`, `hard-grip`, `one-string`, `long-barre`, `long-playing`. */
export function careFindings(notes: readonly FrettedNote[], instrument: Instrument): Finding[] {
  const struck = struckGrips(notes);
  return [...gripFindings(struck, instrument), ...barreFindings(struck), ...lengthFindings(notes)].sort(
    (a, b) => a.bar - b.bar || (a.rule < b.rule ? -1 : a.rule > b.rule ? 1 : 0),
  );
}

function struckGrips(notes: readonly FrettedNote[]): Struck[] {
  const by = new Map<string, Struck>();
  for (const n of notes) {
    const key = n.grace === true ? `${n.bar}|${n.tick}|grace ${n.midi}` : `${n.bar}|${n.tick}`;
    const at = by.get(key);
    if (at === undefined) by.set(key, { bar: n.bar, onsetSec: n.onsetSec, notes: [n] });
    else if (!at.notes.some((m) => m.string === n.string && m.fret === n.fret)) at.notes.push(n);
  }
  return [...by.values()].sort((a, b) => a.onsetSec - b.onsetSec || a.bar - b.bar);
}

/** A grip in words, strings 6 → 1, "x" where silent. */
function gripText(notes: readonly FrettedNote[]): string {
  return [6, 5, 4, 3, 2, 1].map((s) => notes.find((n) => n.string === s)?.fret ?? "x").join(" ");
}

const barsText = (bars: readonly number[]): string => {
  const list = [...new Set(bars)];
  const shown = list.slice(0, 6).join(", ");
  return `bar${list.length === 1 ? "" : "s"} ${shown}${list.length > 6 ? " and others" : ""}`;
};

function gripFindings(struck: readonly Struck[], instrument: Instrument): Finding[] {
  const mm = neckMm(instrument);
  const kinds = new Map<string, { rule: string; grip: string; stretchMm: number; bars: number[] }>();
  for (const s of struck) {
    const grip = gripText(s.notes);
    const stopped = s.notes.filter((n) => n.fret > 0).map((n) => n.fret);
    const stretchMm =
      stopped.length < 2 ? 0 : (mm[Math.max(...stopped) + 1] ?? 0) - (mm[Math.min(...stopped) + 1] ?? 0);
    const oneString = new Set(s.notes.map((n) => n.string)).size < s.notes.length;
    const rule = oneString
      ? "one-string"
      : fingeringsOf(s.notes, mm, HAND_WEIGHTS, 1).length === 0
        ? "hard-grip"
        : stretchMm > CARE_DEFAULTS.stretchMm
          ? "wide-stretch"
          : undefined;
    if (rule === undefined) continue;
    const key = `${rule}|${grip}`;
    const known = kinds.get(key);
    if (known === undefined) kinds.set(key, { rule, grip, stretchMm, bars: [s.bar] });
    else known.bars.push(s.bar);
  }
  return [...kinds.values()].map(({ rule, grip, stretchMm, bars }): Finding => {
    const bar = bars[0] ?? 0;
    const where = barsText(bars);
    if (rule === "one-string")
      return {
        rule,
        level: "warning",
        bar,
        message: `${where}: two notes at once that only one string can play`,
        hint: "One of them may not have been played, or they follow each other: correct the note or its place.",
      };
    if (rule === "hard-grip")
      return {
        rule,
        level: "warning",
        bar,
        message: `${where}: one hand can't hold ${grip} (strings 6 to 1) with four fingers`,
        hint: "A note may be wrong or written on the wrong string: listen to the bar and correct it. Do not force the hand into it.",
      };
    return {
      rule,
      level: "note",
      bar,
      message: `${where}: ${grip} (strings 6 to 1) spans ${Math.round(stretchMm)} mm along the neck, more than the ${Math.round(CARE_DEFAULTS.stretchMm)} mm most hands cover at ease`,
      hint: `Play it with a capo or lower the stretch with another place for a note. ${CAUTION}`,
    };
  });
}

/** Barres that return or stay without a gap long enough to let go. */
function barreFindings(struck: readonly Struck[]): Finding[] {
  let startSec: number | undefined;
  let startBar = 0;
  let lastSec = 0;
  let longestSec = 0;
  let bar = 0;
  for (const s of struck) {
    const stopped = s.notes.filter((n) => n.leftFinger > 0);
    const barred = stopped.some((n) => stopped.some((m) => m !== n && m.leftFinger === n.leftFinger));
    if (startSec !== undefined && s.onsetSec - lastSec > CARE_DEFAULTS.restSec) startSec = undefined;
    if (!barred) continue;
    if (startSec === undefined) {
      startSec = s.onsetSec;
      startBar = s.bar;
    }
    lastSec = s.onsetSec;
    if (lastSec - startSec > longestSec) {
      longestSec = lastSec - startSec;
      bar = startBar;
    }
  }
  if (longestSec < CARE_DEFAULTS.longBarreSec) return [];
  return [
    {
      rule: "long-barre",
      level: "note",
      bar,
      message: `from bar ${bar} a barre is held or taken again for ${Math.round(longestSec)} s without a rest`,
      hint: `Practise it in short pieces, with a capo or lower on the neck if that helps. ${CAUTION}`,
    },
  ];
}

/** Playing without a rest, by the onsets alone. */
function lengthFindings(notes: readonly FrettedNote[]): Finding[] {
  const sorted = [...notes].sort((a, b) => a.onsetSec - b.onsetSec);
  const first = sorted[0];
  if (first === undefined) return [];
  let startSec = first.onsetSec;
  let startBar = first.bar;
  let lastSec = first.onsetSec;
  let longestSec = 0;
  let bar = startBar;
  for (const n of sorted) {
    if (n.onsetSec - lastSec > CARE_DEFAULTS.restSec) {
      startSec = n.onsetSec;
      startBar = n.bar;
    }
    lastSec = n.onsetSec;
    if (lastSec - startSec > longestSec) {
      longestSec = lastSec - startSec;
      bar = startBar;
    }
  }
  if (longestSec < CARE_DEFAULTS.longPlayingSec) return [];
  return [
    {
      rule: "long-playing",
      level: "note",
      bar,
      message: `from bar ${bar} both hands play ${Math.round(longestSec)} s without a rest`,
      hint: `Practise it in shorter stretches and slower first. ${CAUTION}`,
    },
  ];
}
