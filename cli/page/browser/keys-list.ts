/** The visible list of keys, from the same rows that the keyboard reads. Each row can be tapped too, so that nothing needs a keyboard. */
import type { Action } from "./actions.js";
import { byId, el, groupBy } from "./dom.js";

export function showKeys(actions: readonly Action[], run: (action: Action) => void): void {
  const home = byId("keys");
  const groups = groupBy(actions, (a) => a.group);
  home.replaceChildren(
    el("h2", {}, "Keys"),
    ...[...groups].map(([group, rows]) =>
      el(
        "section",
        {},
        el("h3", {}, group),
        el("ul", {}, ...rows.map((row) => el("li", {}, ...rowOf(row, run)))),
      ),
    ),
  );
}

/** A row; where the key itself says what is meant (a fret, a finger) there is nothing to tap: the panel has fields for these. */
function rowOf(row: Action, run: (action: Action) => void): HTMLElement[] {
  const words = [el("kbd", {}, row.shown), el("span", {}, row.words)];
  return row.isChosenByKey
    ? words
    : [el("button", { type: "button", "data-action": row.id, onClick: () => run(row) }, ...words)];
}
