/** The panel at the caret: the note in form fields, its other places, the chord, and what the check says of the bar. */
import type { LeftFinger, PickFinger } from "../../../src/hands/fretted.js";
import type { Action, Desk } from "./actions.js";
import { byId, el } from "./dom.js";
import { refOf } from "./mends.js";
import { beatWords, type Model, noteAtCaret, notesOfBar, noteWords, percent, verdictOf } from "./model.js";

const VERDICT_WORDS = {
  same: "✓ as played",
  differs: "≠ differs from the recording",
  unsure: "~ the recording does not decide",
} as const;

/** Draws the panel anew when what it shows has changed. */
export function makePanel(desk: Desk, actions: readonly Action[], film: HTMLElement): { draw: () => void } {
  const home = byId("panel");
  const noteBox = el("div", { id: "note-box" });
  const barBox = el("div", { id: "bar-box", tabindex: 0, role: "group", "aria-label": "The bar" });
  const filmBox = el("div", { id: "film-box" }, film);
  home.replaceChildren(noteBox, barBox, filmBox);
  let lastKey = "";
  const run = (id: string, key = ""): void => actions.find((a) => a.id === id)?.run(key);
  return {
    draw() {
      const { model } = desk;
      const note = noteAtCaret(model);
      const verdict = verdictOf(model, model.caret.bar);
      const key = JSON.stringify([
        model.caret,
        note,
        verdict,
        model.state.check,
        model.state.offer,
        model.state.version,
        model.stepTicks,
      ]);
      if (key === lastKey) return;
      lastKey = key;
      const focus =
        document.activeElement instanceof HTMLElement ? document.activeElement.dataset.field : undefined;
      noteBox.replaceChildren(...noteFields(desk, run));
      barBox.replaceChildren(...barWords(model, run));
      if (focus) home.querySelector<HTMLElement>(`[data-field="${focus}"]`)?.focus();
    },
  };
}

type Run = (id: string, key?: string) => void;

const button = (
  words: string,
  label: string,
  act: () => void,
  props: Record<string, string | boolean> = {},
): HTMLElement =>
  el(
    "button",
    {
      type: "button",
      title: label,
      "aria-label": /[a-z0-9]/i.test(words) ? undefined : label, // words that can be read are the name
      "data-field": label,
      onClick: act,
      ...props,
    },
    words,
  );

function noteFields(desk: Desk, run: Run): HTMLElement[] {
  const { model, mends } = desk;
  const note = noteAtCaret(model);
  const { bar, tick, string } = model.caret;
  const heading = el("h2", {}, `Bar ${bar}, ${beatWords(tick)}, string ${string}`);
  if (!note)
    return [
      heading,
      el("p", {}, "No note here. Type a fret to write one."),
      el("p", { class: "row" }, ...chordButtons(run)),
    ];
  const at = refOf(note);
  const choose = (
    label: string,
    options: readonly (readonly [string, string])[],
    value: string,
    act: (value: string) => void,
  ): HTMLElement => {
    const select = el(
      "select",
      { "data-field": label, onChange: (event) => act((event.target as HTMLSelectElement).value) },
      ...options.map(([v, words]) => el("option", { value: v, selected: v === value }, words)),
    );
    return el("label", {}, label, select);
  };
  const fret = el("input", {
    type: "number",
    min: 0,
    max: 24,
    value: note.fret,
    "data-field": "Fret",
    onChange: (event) =>
      void mends.mend([{ kind: "set-fret", at, fret: Number((event.target as HTMLInputElement).value) }]),
  });
  return [
    heading,
    el(
      "p",
      { class: note.isUnsure ? "say unsure" : "say" },
      `${note.pitch}, ${note.by === "hand" ? "settled by hand" : `${note.isUnsure ? "unsure: " : ""}${percent(note.confidence)} sure`}`,
    ),
    el(
      "div",
      { class: "row" },
      choose(
        "String",
        model.state.sheet.stringNames.map((name, k) => [String(k + 1), `${k + 1} ${name}`] as const),
        String(note.string),
        (v) =>
          void mends.mend([{ kind: "move-string", at, string: Number(v) }], {
            ...model.caret,
            string: Number(v),
          }),
      ),
      el("label", {}, "Fret", fret),
      choose(
        "Picks",
        [
          ["none", "–"],
          ["p", "p"],
          ["i", "i"],
          ["m", "m"],
          ["a", "a"],
        ],
        note.finger ?? "none",
        (v) => void mends.mend([{ kind: "set-finger", at, finger: v as PickFinger | "none" }]),
      ),
      choose(
        "Left",
        [
          ["none", "–"],
          ["0", "0"],
          ["1", "1"],
          ["2", "2"],
          ["3", "3"],
          ["4", "4"],
        ],
        note.leftFinger === undefined ? "none" : String(note.leftFinger),
        (v) =>
          void mends.mend([
            { kind: "set-left-finger", at, leftFinger: v === "none" ? "none" : (Number(v) as LeftFinger) },
          ]),
      ),
      choose(
        "Mark",
        [
          ["none", "–"],
          ["hammer-on", "hammer-on"],
          ["pull-off", "pull-off"],
          ["slide", "slide"],
          ["let-ring", "let ring"],
          ["dead", "dead"],
          ["harmonic", "harmonic"],
          ["tie", "tie"],
        ],
        note.marks.find((m) => m !== "grace") ?? "none",
        (v) =>
          void mends.mend([
            {
              kind: "set-marks",
              at,
              marks: [
                ...(note.marks.includes("grace") ? (["grace"] as const) : []),
                ...(v === "none" ? [] : [v as (typeof note.marks)[number]]),
              ],
            },
          ]),
      ),
    ),
    el(
      "div",
      { class: "row" },
      group(
        "Place",
        button("◂", "a step earlier", () => run("place-back")),
        button("▸", "a step later", () => run("place-on")),
      ),
      group(
        "Length",
        button("−", "a step shorter", () => run("shorter")),
        button("+", "a step longer", () => run("longer")),
      ),
      note.alternatives.length > 0 &&
        group(
          "Other places",
          ...note.alternatives.slice(0, 4).map((p, k) =>
            button(
              `${p.string}·${p.fret}`,
              `string ${p.string} fret ${p.fret}`,
              () =>
                void mends.mend([{ kind: "accept-alternative", at, alternativeIdx: k }], {
                  ...model.caret,
                  string: p.string,
                }),
            ),
          ),
        ),
      note.by === "hand"
        ? button("Unlock", "unlock: leave it to the machine", () => run("release"))
        : button("Right as it is", "right as it is: lock it", () => run("settle"), { class: "good" }),
      button("Take out", "take the note out", () => run("delete")),
      ...chordButtons(run),
    ),
  ];
}

const chordButtons = (run: Run): HTMLElement[] => [
  button("Chord…", "chord at the caret", () => run("chord")),
  button("Grid…", "tempo, meter, first beat, feel", () => run("grid")),
];

const group = (words: string, ...children: HTMLElement[]): HTMLElement =>
  el(
    "span",
    { class: "group", role: "group", "aria-label": words },
    el("span", { class: "word" }, words),
    ...children,
  );

function barWords(model: Model, run: Run): HTMLElement[] {
  const { bar } = model.caret;
  const { check, offer } = model.state;
  const verdict = verdictOf(model, bar);
  const out: HTMLElement[] = [
    el(
      "h2",
      {},
      `Bar ${bar} `,
      el("span", { class: `verdict ${verdict ?? ""}` }, verdict ? VERDICT_WORDS[verdict] : ""),
    ),
  ];
  if (offer)
    out.push(
      el(
        "p",
        { class: "offer" },
        `${offer.text} `,
        button("Yes (Y)", "the same in the bars that are alike", () => run("siblings"), { class: "good" }),
        " ",
        button("No (Esc)", "not in the other bars", () => run("drop")),
      ),
    );
  if (check.kind === "none") out.push(el("p", { class: "say" }, check.why));
  else {
    const list = check.differences.filter((d) => d.bar === bar);
    if (list.length > 0)
      out.push(el("ul", { class: "differences" }, ...list.map((d) => el("li", {}, d.text))));
  }
  for (const finding of model.state.sheet.findings.filter((f) => f.bar === bar).slice(0, 3))
    out.push(el("p", { class: "say" }, `${finding.message}. ${finding.hint}`));
  out.push(
    el(
      "ol",
      { class: "listed", "aria-label": `Notes of bar ${bar}` },
      ...notesOfBar(model, bar).map((n) => el("li", {}, `${beatWords(n.tick)}: ${noteWords(n)}`)),
    ),
  );
  return out;
}
