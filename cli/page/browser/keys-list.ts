/** The visible list of keys, from the same rows that the keyboard reads. */
import type { Action } from "./actions.js";
import { byId, el, groupBy } from "./dom.js";

export function showKeys(actions: readonly Action[]): void {
  const home = byId("keys");
  const groups = groupBy(actions, (a) => a.group);
  home.replaceChildren(
    el("h2", {}, "Keys"),
    ...[...groups].map(([group, rows]) =>
      el(
        "section",
        {},
        el("h3", {}, group),
        el(
          "dl",
          {},
          ...rows
            .filter((row) => row.id !== "step-coarser")
            .flatMap((row) => [el("dt", {}, el("kbd", {}, row.shown)), el("dd", {}, row.words)]),
        ),
      ),
    ),
  );
}
