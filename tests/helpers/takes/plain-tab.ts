import type { Study } from "./study.js";

const LABELS = {
  standard: ["E", "A", "D", "G", "B", "e"],
  "drop-d": ["D", "A", "D", "G", "B", "e"],
  dadgad: ["D", "A", "D", "G", "A", "d"],
} as const;

const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b));

/** The study as plain six-line tab, as it is typed into mails: no header, no rhythm but the spacing, frets from the capo.
 * One column a grid step, `barsPerLine` bars in a system. */
export function plainTab(study: Study, barsPerLine = 2): string {
  const stepTicks = study.notes.reduce((step, n) => gcd(step, n.tick), 24);
  const columnsOf = (bar: number): number =>
    ((bar === 0 ? study.pickupBeats : study.meter.beats) * 24) / stepTicks;
  const wide = study.notes.some((n) => n.fret > 9) ? 3 : 2;
  const systems: string[] = [];
  for (let from = study.pickupBeats > 0 ? 0 : 1; from <= study.barCount; from += barsPerLine) {
    const lines = [6, 5, 4, 3, 2, 1].map((string) => {
      let line = `${LABELS[study.tuning][6 - string]}|`;
      for (let bar = from; bar < from + barsPerLine && bar <= study.barCount; bar++) {
        const cells = Array.from({ length: columnsOf(bar) }, () => "".padEnd(wide, "-"));
        for (const n of study.notes)
          if (n.bar === bar && n.string === string)
            cells[n.tick / stepTicks] = String(n.fret).padEnd(wide, "-");
        line += `-${cells.join("")}|`;
      }
      return line;
    });
    systems.push(lines.reverse().join("\n"));
  }
  return `${systems.join("\n\n")}\n`;
}
