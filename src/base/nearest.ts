/** The nearest of some known words within two edits, for "did you mean"; undefined when none is that near.
 * Edits: insert, delete, replace, swap of neighbours (Damerau 1964). Ties go to the earlier word. */
export function nearestWord(word: string, known: readonly string[]): string | undefined {
  let best: string | undefined;
  let bestCount = 3;
  for (const candidate of known) {
    const count = editCount(word.toLowerCase(), candidate.toLowerCase());
    if (count < bestCount) {
      best = candidate;
      bestCount = count;
    }
  }
  return best;
}

/** Number of single edits between two words (optimal string alignment). */
export function editCount(a: string, b: string): number {
  const rows: number[][] = [Array.from({ length: b.length + 1 }, (_, k) => k)];
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let k = 1; k <= b.length; k++) {
      const isSame = a[i - 1] === b[k - 1];
      let count = Math.min(
        (rows[i - 1]?.[k] ?? 0) + 1,
        (row[k - 1] ?? 0) + 1,
        (rows[i - 1]?.[k - 1] ?? 0) + (isSame ? 0 : 1),
      );
      if (i > 1 && k > 1 && a[i - 1] === b[k - 2] && a[i - 2] === b[k - 1])
        count = Math.min(count, (rows[i - 2]?.[k - 2] ?? 0) + 1);
      row.push(count);
    }
    rows.push(row);
  }
  return rows[a.length]?.[b.length] ?? Math.max(a.length, b.length);
}
