// The form as a teacher writes it: sections with letters, repeats with their endings.
// In: which bars are the same music. Out: sections in playing order and written repeats.
// Method: the shortest description: bars are cut into sections, each new or a copy of an earlier one (its last bars may
// differ: a varied ending); a copy is cheap, a section of four or eight bars cheaper than of another length. Beam search.
// Source: minimum description length, Rissanen 1978. Cannot do: hear where a section begins that nothing repeats.
import type { FormPart, Repeat } from "./sheet.js";

export const FORM_DEFAULTS = Object.freeze({
  longest: 16, // bars of a section
  beam: 30,
  newSection: 1.2, // price of any section, in bars
  newBar: 1.2, // price of writing out a bar
  knownBar: 1.1, // and of one that the section has already
  copy: 1.1, // price of naming an earlier one
  mismatch: 1.4, // price of a bar that differs within a copy
  mostDiffering: 0.34, // part of a copy's bars that may differ
});

/** Price of a section's length: teachers write four and eight bars. */
const lengthPrice = (bars: number): number =>
  bars === 8 || bars === 4 ? 0 : bars === 16 || bars === 12 || bars === 6 ? 0.8 : bars === 2 ? 1.6 : 2.2;

type Section = { from: number; len: number; label: number };
type Cut = { sections: Section[]; labels: number; price: number };

/** Finds the form.
 * @param groupOfBar group number a bar; equal = the same music (a slip or varied ending allowed)
 * @param exactOfBar the same, but equal only when note for note the same; tells first from second endings. Default groupOfBar
 * @returns one part "A" for music in which nothing comes back; nothing for no bars */
export function findForm(
  groupOfBar: readonly number[],
  exactOfBar: readonly number[] = groupOfBar,
): { form: FormPart[]; repeats: Repeat[] } {
  const n = groupOfBar.length;
  if (n === 0) return { form: [], repeats: [] };
  const beams: Cut[][] = Array.from({ length: n + 1 }, () => []);
  (beams[0] as Cut[]).push({ sections: [], labels: 0, price: 0 });
  for (let at = 0; at < n; at++) {
    const cuts = (beams[at] as Cut[]).sort(
      (a, b) => a.price - b.price || a.sections.length - b.sections.length,
    );
    for (const cut of cuts.slice(0, FORM_DEFAULTS.beam))
      for (let len = 1; len <= Math.min(FORM_DEFAULTS.longest, n - at); len++)
        for (const next of continuations(cut, at, len, groupOfBar)) (beams[at + len] as Cut[]).push(next);
  }
  const best = (beams[n] as Cut[]).sort(
    (a, b) => a.price - b.price || a.sections.length - b.sections.length || a.labels - b.labels,
  )[0] as Cut;
  const nothingBack = best.labels === best.sections.length;
  const sections = nothingBack ? [{ from: 0, len: n, label: 0 }] : best.sections;
  const form = sections.map((s) => ({ label: letter(s.label), bars: barsOf(s) }));
  return { form, repeats: nothingBack ? [] : repeatsOf(sections, exactOfBar) };
}

function continuations(cut: Cut, at: number, len: number, groupOfBar: readonly number[]): Cut[] {
  const out: Cut[] = [];
  const base = cut.price + FORM_DEFAULTS.newSection + lengthPrice(len);
  const inner = new Set(groupOfBar.slice(at, at + len)).size;
  // A new section: every kind of bar in it must be written out; bars that come back within cost less.
  out.push({
    sections: [...cut.sections, { from: at, len, label: cut.labels }],
    labels: cut.labels + 1,
    price: base + FORM_DEFAULTS.newBar * inner + FORM_DEFAULTS.knownBar * (len - inner),
  });
  const seen = new Set<number>();
  for (const s of cut.sections) {
    if (s.len !== len || seen.has(s.label)) continue;
    seen.add(s.label);
    let differing = 0;
    for (let k = 0; k < len; k++) if (groupOfBar[s.from + k] !== groupOfBar[at + k]) differing++;
    if (groupOfBar[s.from] !== groupOfBar[at] || differing > FORM_DEFAULTS.mostDiffering * len) continue;
    out.push({
      sections: [...cut.sections, { from: at, len, label: s.label }],
      labels: cut.labels,
      price: base - FORM_DEFAULTS.newSection + FORM_DEFAULTS.copy + FORM_DEFAULTS.mismatch * differing,
    });
  }
  return out;
}

const barsOf = (s: Section): number[] => Array.from({ length: s.len }, (_, k) => s.from + k + 1);

/** A … Z, then AA, AB …: labels of sections by number. */
export function letter(label: number): string {
  const last = String.fromCharCode(65 + (label % 26));
  return label < 26 ? last : letter(Math.floor(label / 26) - 1) + last;
}

/** Equal sections in a row become a repeat; bars from the first that differs on are endings. */
function repeatsOf(sections: readonly Section[], exactOfBar: readonly number[]): Repeat[] {
  const repeats: Repeat[] = [];
  for (let k = 0; k < sections.length; ) {
    const first = sections[k] as Section;
    let times = 1;
    while (sections[k + times]?.label === first.label) times++;
    if (times > 1) {
      const run = sections.slice(k, k + times);
      let common = first.len;
      for (const s of run)
        for (let j = 0; j < common; j++)
          if (exactOfBar[s.from + j] !== exactOfBar[first.from + j]) {
            common = j;
            break;
          }
      repeats.push({
        fromBar: first.from + 1,
        toBar: first.from + first.len,
        times,
        endings: common === first.len || common === 0 ? [] : endingsOf(run, common, exactOfBar),
      });
    }
    k += times;
  }
  return repeats;
}

function endingsOf(
  run: readonly Section[],
  common: number,
  exactOfBar: readonly number[],
): Repeat["endings"] {
  const endings: { key: string; times: number[]; bars: number[] }[] = [];
  run.forEach((s, time) => {
    const bars = barsOf(s).slice(common);
    const key = bars.map((b) => exactOfBar[b - 1]).join(" ");
    const known = endings.find((e) => e.key === key);
    if (known === undefined) endings.push({ key, times: [time + 1], bars });
    else known.times.push(time + 1);
  });
  return endings.map(({ times, bars }) => ({ times, bars }));
}
