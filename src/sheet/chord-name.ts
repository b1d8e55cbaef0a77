/** Root and bass of a chord symbol as printed: "G/A" has root G and bass A; "N.C." has none. */
export function rootAndBass(symbol: string): { root: string; bass: string } {
  const match = /^([A-G])([#b♯♭]{0,2})/.exec(symbol);
  if (!match) return { root: "", bass: "" };
  const plain = (text: string): string => text.replaceAll("♯", "#").replaceAll("♭", "b");
  const root = plain(match[0]);
  const slash = /\/([A-G][#b♯♭]{0,2})$/.exec(symbol);
  return { root, bass: slash?.[1] === undefined ? root : plain(slash[1]) };
}
