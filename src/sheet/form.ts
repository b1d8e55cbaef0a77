// The form as a teacher writes it: sections with letters, repeats with their endings.
// In: which bars are the same music. Out: sections in playing order and written repeats.
// Method: the shortest description: bars are cut into sections, each new or a copy of an earlier one (its last bars may
// differ: a varied ending); a copy is cheap, a section of four or eight bars cheaper than of another length. Beam search.
// Source: minimum description length, Rissanen 1978. Cannot do: hear where a section begins that nothing repeats.
import type { FormPart, Repeat } from "./sheet.js";

const FORM_DEFAULTS = Object.freeze({
  longest: 16, // bars of a section
  beam: 30,
  newSection: 1.2, // price of any section, in bars
  newBar: 1.2, // price of writing out a bar
  knownBar: 1.1, // and of one that the section has already
  copy: 1.1, // price of naming an earlier one
  mismatch: 1.4, // price of a bar that differs within a copy
  mostDiffering: 0.34, // part of a copy's bars that may differ
  lastDiffers: 0.7, // price of the music's last bar, where it differs: a final chord is to be expected
  short: 8, // bars of music that two-bar phrases make up
});

/** Price of a section's length: teachers write four and eight bars, and two where the whole is that short. */
function lengthPrice(bars: number, ofBars: number): number {
  if (bars === 8 || bars === 4 || (bars === 2 && ofBars <= FORM_DEFAULTS.short)) return 0;
  return bars === 16 || bars === 12 || bars === 6 ? 0.8 : bars === 2 ? 1.6 : 2.2;
}

/** A section: its first bar counted from 0, its bars, the number of its label. */
export type Section = { from: number; len: number; label: number };

/** A way to cut the bars so far: its last section, the cut before it, and the first section of every label. */
type Cut = {
  last: Section | undefined;
  before: Cut | undefined;
  firsts: readonly Section[];
  sectionCount: number;
  price: number;
};

/** The best cuts up to a bar, best first; of equals the one that came first. */
type Beam = Cut[];

/** Puts a cut where it belongs, unless enough better ones are there. `labels` is how many labels it will have. */
function consider(beam: Beam, before: Cut, last: Section, price: number, firsts: readonly Section[]): void {
  const total = before.price + price;
  const sectionCount = before.sectionCount + 1;
  const labels = Math.max(firsts.length, last.label + 1);
  let at = beam.length;
  for (; at > 0; at--) {
    const c = beam[at - 1] as Cut;
    const worse = c.price - total || c.sectionCount - sectionCount || c.firsts.length - labels;
    if (worse <= 0) break;
  }
  if (at >= FORM_DEFAULTS.beam) return;
  const all = labels > firsts.length ? [...firsts, last] : firsts;
  beam.splice(at, 0, { last, before, firsts: all, sectionCount, price: total });
  if (beam.length > FORM_DEFAULTS.beam) beam.pop();
}

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
  const beams: Beam[] = Array.from({ length: n + 1 }, () => []);
  (beams[0] as Beam).push({ last: undefined, before: undefined, firsts: [], sectionCount: 0, price: 0 });
  for (let at = 0; at < n; at++) {
    const cuts = beams[at] as Beam;
    beams[at] = []; // what was not kept is let go
    const kinds = new Set<number>();
    for (let len = 1; len <= Math.min(FORM_DEFAULTS.longest, n - at); len++) {
      kinds.add(groupOfBar[at + len - 1] as number);
      const base = FORM_DEFAULTS.newSection + lengthPrice(len, n);
      // A new section: every kind of bar in it must be written out; bars that come back within cost less.
      const written = FORM_DEFAULTS.newBar * kinds.size + FORM_DEFAULTS.knownBar * (len - kinds.size);
      const beam = beams[at + len] as Beam;
      for (const cut of cuts) {
        consider(beam, cut, { from: at, len, label: cut.firsts.length }, base + written, cut.firsts);
        for (const first of cut.firsts) {
          if (first.len !== len) continue;
          const ends = at + len === n && len > 1 && groupOfBar[first.from + len - 1] !== groupOfBar[n - 1];
          const differing = differingBars(groupOfBar, first.from, at, ends ? len - 1 : len);
          const { copy, mismatch, mostDiffering, lastDiffers } = FORM_DEFAULTS;
          // A last bar of its own is one that differs; of two bars it may be half.
          if (differing + (ends && len > 2 ? 1 : 0) > mostDiffering * len) continue;
          const price = lengthPrice(len, n) + copy + mismatch * differing + (ends ? lastDiffers : 0);
          consider(beam, cut, { from: at, len, label: first.label }, price, cut.firsts);
        }
      }
    }
  }
  const best = (beams[n] as Beam)[0] as Cut;
  const nothingBack = best.firsts.length === best.sectionCount;
  const sections = nothingBack ? [{ from: 0, len: n, label: 0 }] : sectionsOf(best);
  const form = sections.map((s) => ({ label: letter(s.label), bars: barsOf(s) }));
  return { form, repeats: nothingBack ? [] : repeatsOf(sections, exactOfBar) };
}

/** How many bars of a copy differ from its first; all of them when it begins otherwise. */
function differingBars(groupOfBar: readonly number[], from: number, at: number, len: number): number {
  if (groupOfBar[from] !== groupOfBar[at]) return len;
  let differing = 0;
  for (let k = 1; k < len; k++) if (groupOfBar[from + k] !== groupOfBar[at + k]) differing++;
  return differing;
}

function sectionsOf(cut: Cut): Section[] {
  const sections: Section[] = [];
  for (let c: Cut | undefined = cut; c?.last !== undefined; c = c.before) sections.push(c.last);
  return sections.reverse();
}

const barsOf = (s: Section): number[] => Array.from({ length: s.len }, (_, k) => s.from + k + 1);

/** A … Z, then AA, AB …: labels of sections by number. */
export function letter(label: number): string {
  const last = String.fromCharCode(65 + (label % 26));
  return label < 26 ? last : letter(Math.floor(label / 26) - 1) + last;
}

/** Equal sections in a row become a repeat; bars from the first that differs on are endings. */
export function repeatsOf(sections: readonly Section[], exactOfBar: readonly number[]): Repeat[] {
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
