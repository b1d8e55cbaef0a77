/** The panel at the caret: the note in form fields, its other places, the chord, and what the check says of the bar. */
import type { LeftFinger, PickFinger } from "../../../src/hands/fretted.js";
import type { PageNote } from "../view-types.js";
import type { Desk } from "./actions.js";
import { byId, el } from "./dom.js";
import { refOf } from "./mends.js";
import { beatWords, type Model, noteAtCaret, notesOfBar, noteWords, percent, verdictOf } from "./model.js";

const VERDICT_WORDS = {
  same: "✓ as played",
  differs: "≠ differs from the recording",
  unsure: "~ the recording does not decide",
} as const;
const FRETS_SHOWN = 12; // as buttons where a note can be written; the rest of the neck in a list
const HIGHEST_FRET = 24;

/** Draws the panel anew when what it shows has changed. */
export function makePanel(desk: Desk, run: Run, film: HTMLElement): { draw: () => void } {
  const home = byId("panel");
  const noteBox = el("div", { id: "note-box" });
  const barBox = el("div", { id: "bar-box", tabindex: 0, role: "group", "aria-label": "The bar" });
  const filmBox = el("div", { id: "film-box" }, film);
  home.replaceChildren(noteBox, barBox, filmBox);
  let last: readonly unknown[] = [];
  return {
    draw() {
      const { caret, state, stepTicks } = desk.model;
      const now = [caret.bar, caret.tick, caret.string, state.sheet, state.check, state.offer, stepTicks];
      if (now.every((x, k) => x === last[k]) && last.length > 0) return;
      last = now;
      const focus =
        document.activeElement instanceof HTMLElement ? document.activeElement.dataset.field : undefined;
      noteBox.replaceChildren(...noteFields(desk, run));
      barBox.replaceChildren(...barWords(desk.model, run));
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

function choose(
  label: string,
  options: readonly (readonly [string, string])[],
  value: string,
  act: (value: string) => void,
): HTMLElement {
  const select = el(
    "select",
    { "data-field": label, onChange: (event) => act((event.target as HTMLSelectElement).value) },
    ...options.map(([v, words]) => el("option", { value: v, selected: v === value }, words)),
  );
  return el("label", {}, label, select);
}

/** Buttons under one word. */
const group = (words: string, ...children: HTMLElement[]): HTMLElement =>
  el(
    "span",
    { class: "group", role: "group", "aria-label": words },
    el("span", { class: "word" }, words),
    el("span", {}, ...children),
  );

function noteFields(desk: Desk, run: Run): HTMLElement[] {
  const { caret } = desk.model;
  const note = noteAtCaret(desk.model);
  const where = `Bar ${caret.bar}, ${beatWords(caret.tick)}, string ${caret.string} `;
  if (!note)
    return [
      el("h2", {}, where, el("span", { class: "say" }, "no note: type or tap a fret")),
      el("div", { class: "row frets" }, ...fretButtons(desk)),
      el("p", { class: "row" }, ...barButtons(run)),
    ];
  const state =
    note.by === "hand"
      ? "settled by hand"
      : `${note.isUnsure ? "unsure, " : ""}${percent(note.confidence)} sure`;
  return [
    el(
      "h2",
      {},
      where,
      el("span", { class: note.isUnsure ? "say unsure" : "say" }, `${note.pitch}, ${state}`),
    ),
    el("div", { class: "row" }, ...fieldsOf(note, desk, run)),
    el(
      "div",
      { class: "row" },
      note.by === "hand"
        ? button("Unlock", "unlock: leave it to the machine", () => run("release"))
        : button("Right as it is", "right as it is: lock it", () => run("settle"), { class: "good" }),
      button("Take out", "take the note out", () => run("delete")),
      ...barButtons(run),
      otherPlaces(note, desk),
    ),
  ];
}

function fieldsOf(note: PageNote, { model, mends }: Desk, run: Run): HTMLElement[] {
  const at = refOf(note);
  const none = ["none", "–"] as const;
  const marks = note.marks.filter((m) => m !== "grace").map((m) => m.replace("-", " "));
  return [
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
    el(
      "label",
      {},
      "Fret",
      el("input", {
        type: "number",
        min: 0,
        max: HIGHEST_FRET,
        value: note.fret,
        "data-field": "Fret",
        onChange: (event) =>
          void mends.mend([{ kind: "set-fret", at, fret: Number((event.target as HTMLInputElement).value) }]),
      }),
    ),
    choose(
      "Picks",
      [none, ["p", "p"], ["i", "i"], ["m", "m"], ["a", "a"]],
      note.finger ?? "none",
      (v) => void mends.mend([{ kind: "set-finger", at, finger: v as PickFinger | "none" }]),
    ),
    choose(
      "Left",
      [none, ["0", "0"], ["1", "1"], ["2", "2"], ["3", "3"], ["4", "4"]],
      note.leftFinger === undefined ? "none" : String(note.leftFinger),
      (v) =>
        void mends.mend([
          { kind: "set-left-finger", at, leftFinger: v === "none" ? "none" : (Number(v) as LeftFinger) },
        ]),
    ),
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
    group(
      "Marks",
      button(marks.length === 0 ? "none" : marks.join(", "), "marks of the note", () => run("marks")),
    ),
  ];
}

function otherPlaces(note: PageNote, { model, mends }: Desk): HTMLElement {
  const at = refOf(note);
  return el(
    "span",
    { class: "places", role: "group", "aria-label": "Other places of this pitch" },
    ...note.alternatives.slice(0, 4).map((p, k) =>
      button(
        `${p.string}·${p.fret}`,
        `string ${p.string} fret ${p.fret}, same pitch`,
        () =>
          void mends.mend([{ kind: "accept-alternative", at, alternativeIdx: k }], {
            ...model.caret,
            string: p.string,
          }),
      ),
    ),
  );
}

function fretButtons({ model, mends }: Desk): HTMLElement[] {
  const { bar, tick, string } = model.caret;
  const write = (fret: number): void =>
    void mends.mend([{ kind: "add-note", note: { bar, tick, string, fret } }]);
  const higher = Array.from({ length: HIGHEST_FRET - FRETS_SHOWN }, (_, k) => String(FRETS_SHOWN + 1 + k));
  return [
    ...Array.from({ length: FRETS_SHOWN + 1 }, (_, fret) =>
      button(String(fret), `write fret ${fret}`, () => write(fret)),
    ),
    el(
      "select",
      {
        "aria-label": "write a higher fret",
        "data-field": "higher",
        onChange: (event) => write(Number((event.target as HTMLSelectElement).value)),
      },
      el("option", { value: "", disabled: true, selected: true }, "higher"),
      ...higher.map((fret) => el("option", { value: fret }, fret)),
    ),
  ];
}

const barButtons = (run: Run): HTMLElement[] => [
  button("Chord…", "chord at the caret", () => run("chord")),
  button("Grid…", "tempo, meter, first beat, feel", () => run("grid")),
];

function barWords(model: Model, run: Run): HTMLElement[] {
  const { bar } = model.caret;
  const { check, offer } = model.state;
  const verdict = verdictOf(model, bar);
  const out: HTMLElement[] = [
    el(
      "h2",
      {},
      `Bar ${bar} `,
      el(
        "span",
        { class: `verdict ${verdict ?? ""}` },
        check.kind === "done" && check.version !== model.state.version
          ? "… being checked again"
          : verdict
            ? VERDICT_WORDS[verdict]
            : "",
      ),
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
      ...notesOfBar(model, bar).map((n) =>
        el("li", { class: n.isUnsure ? "unsure" : "" }, `${beatWords(n.tick)}: ${noteWords(n)}`),
      ),
    ),
  );
  return out;
}
