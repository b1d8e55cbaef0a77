/** Small forms over the sheet: chord, grid, title, mode. Enter keeps, Escape leaves. */

import type { ModeName } from "../../../src/harmony/harmony.js";
import type { GridEdit } from "../../../src/sheet/edit.js";
import { MODE_NAMES } from "../../../src/sheet/mode-name.js";
import { byId, el } from "./dom.js";
import { type Mends, refOf } from "./mends.js";
import { beatWords, clockText, type Model, noteAtCaret } from "./model.js";

export type Forms = {
  openChord: () => void;
  openGrid: () => void;
  openTitle: () => void;
  openMode: () => void;
  openMarks: () => void;
};

/** Marks that a hand may set. A grace note is one by its place, not by a mark that can be taken away. */
const MARKS = [
  ["hammer-on", "hammer-on"],
  ["pull-off", "pull-off"],
  ["slide", "slide"],
  ["let-ring", "let ring"],
  ["tie", "tied to the note before"],
  ["dead", "dead note"],
  ["harmonic", "harmonic"],
] as const;

export function makeForms(model: Model, mends: Mends, nowSec: () => number): Forms {
  const dialog = el("dialog", { id: "form" });
  document.body.append(dialog);
  const leave = (): void => {
    dialog.close();
    byId("lane").focus();
  };
  dialog.addEventListener("cancel", (event) => {
    event.preventDefault();
    leave();
  });

  // Enter on a list would open it: in these forms it keeps what was chosen, as everywhere else.
  dialog.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !(event.target instanceof HTMLSelectElement)) return;
    event.preventDefault();
    event.target.form?.requestSubmit();
  });

  function open(title: string, fields: Node[], keep: (data: FormData) => void, more: Node[] = []): void {
    const form = el(
      "form",
      {
        onSubmit: (event) => {
          event.preventDefault();
          keep(new FormData(event.target as HTMLFormElement));
          leave();
        },
      },
      el("h2", { id: "form-title" }, title),
      ...fields,
      el(
        "p",
        { class: "row" },
        el("button", { type: "submit", class: "good" }, "Keep (Enter)"),
        ...more,
        el("button", { type: "button", onClick: leave }, "Leave (Esc)"),
      ),
    );
    dialog.setAttribute("aria-labelledby", "form-title");
    dialog.replaceChildren(form);
    dialog.showModal();
    const first = form.querySelector<HTMLInputElement>("input, select");
    first?.focus();
    if (first instanceof HTMLInputElement) first.select();
  }

  const field = (label: string, props: Record<string, string | number | boolean | undefined>): HTMLElement =>
    el("label", {}, label, el("input", { autocomplete: "off", ...props }));
  const pick = (label: string, name: string, options: readonly string[], value: string): HTMLElement =>
    el(
      "label",
      {},
      label,
      el("select", { name }, ...options.map((o) => el("option", { value: o, selected: o === value }, o))),
    );

  return {
    openChord() {
      const { bar, tick } = model.caret;
      const beat = 1 + tick / 24;
      const known = model.state.sheet.chords.filter((c) => c.bar === bar && c.beat <= beat + 1e-6).at(-1);
      const at = known ? { bar, beat: known.beat } : { bar, beat };
      const list = el(
        "datalist",
        { id: "chord-choices" },
        ...(known?.alternatives ?? []).map((s) => el("option", { value: s })),
      );
      const remove = el(
        "button",
        {
          type: "button",
          onClick: () => {
            leave();
            void mends.mend([{ kind: "delete-chord", ...at }]);
          },
        },
        "Take out",
      );
      const here =
        known && known.beat !== beat
          ? el(
              "label",
              { class: "line" },
              el("input", { type: "checkbox", name: "here" }),
              `a new chord at ${beatWords(tick)} instead`,
            )
          : "";
      open(
        known
          ? `Chord of bar ${bar}, ${beatWords((known.beat - 1) * 24)}`
          : `New chord, bar ${bar}, ${beatWords(tick)}`,
        [
          field("Chord", {
            name: "symbol",
            value: known?.symbol ?? "",
            required: true,
            maxlength: 40,
            list: "chord-choices",
          }),
          list,
          ...(here ? [here] : []),
        ],
        (data) =>
          void mends.mend([
            {
              kind: "rename-chord",
              ...(data.get("here") ? { bar, beat } : at),
              symbol: String(data.get("symbol") ?? ""),
            },
          ]),
        known ? [remove] : [],
      );
    },
    openGrid() {
      const { sheet } = model.state;
      open(
        "Grid",
        [
          field("Tempo (beats a minute)", {
            name: "tempo",
            type: "number",
            min: 10,
            max: 600,
            step: "any",
            value: sheet.tempoBpm,
          }),
          field("Beats in a bar", {
            name: "beats",
            type: "number",
            min: 1,
            max: 32,
            value: sheet.meter.beats,
          }),
          pick("Note of a beat", "unit", ["1", "2", "4", "8", "16"], String(sheet.meter.unit)),
          field(`Bar 1 begins (seconds; the sound is at ${nowSec().toFixed(2)})`, {
            name: "first",
            type: "number",
            step: "any",
            value: sheet.firstBeatSec.toFixed(3),
          }),
          pick("Feel", "feel", ["straight", "swing"], sheet.feel),
          field("Long to short, when swung", {
            name: "ratio",
            type: "number",
            min: 1,
            max: 4,
            step: "any",
            value: sheet.feel === "swing" ? sheet.swingRatio : 2,
          }),
          el(
            "p",
            { class: "say" },
            `Tempo ${sheet.tempoFrom === "user" ? "as given" : "estimated"}. Notes are placed again from the moments they were heard. Bar 1 is at ${clockText(sheet.firstBeatSec)}.`,
          ),
        ],
        (data) => {
          const number = (name: string): number => Number(data.get(name));
          const edit: GridEdit = { kind: "set-grid" };
          if (number("tempo") !== sheet.tempoBpm) edit.tempoBpm = number("tempo");
          const meter = { beats: number("beats"), unit: number("unit") };
          if (meter.beats !== sheet.meter.beats || meter.unit !== sheet.meter.unit) edit.meter = meter;
          if (Math.abs(number("first") - sheet.firstBeatSec) >= 0.0005) edit.firstBeatSec = number("first");
          const feel = data.get("feel") === "swing" ? "swing" : "straight";
          if (feel !== sheet.feel) edit.feel = feel;
          if (feel === "swing" && (edit.feel || number("ratio") !== sheet.swingRatio))
            edit.swingRatio = number("ratio");
          if (Object.keys(edit).length > 1) void mends.mend([edit]);
        },
      );
    },
    openTitle() {
      open(
        "Title",
        [field("Title", { name: "title", value: model.state.sheet.title, maxlength: 200, required: true })],
        (data) => void mends.mend([{ kind: "set-title", title: String(data.get("title") ?? "") }]),
      );
    },
    openMarks() {
      const note = noteAtCaret(model);
      if (!note) return;
      open(
        `Marks: string ${note.string}, fret ${note.fret}`,
        MARKS.map(([mark, words]) =>
          el(
            "label",
            { class: "line" },
            el("input", {
              type: "checkbox",
              name: "mark",
              value: mark,
              checked: note.marks.includes(mark),
            }),
            words,
          ),
        ),
        (data) => {
          const chosen = MARKS.map(([mark]) => mark).filter((m) => data.getAll("mark").includes(m));
          const marks = [...note.marks.filter((m) => m === "grace"), ...chosen];
          void mends.mend([{ kind: "set-marks", at: refOf(note), marks }]);
        },
      );
    },
    openMode() {
      const [tonic = "C", ...mode] = model.state.sheet.modeText.split(" ");
      open(
        "Key or mode",
        [
          field("Tonic", {
            name: "tonic",
            value: tonic,
            maxlength: 2,
            required: true,
            pattern: "[A-G][#b]?",
          }),
          pick("Mode", "mode", MODE_NAMES, mode.join(" ")),
        ],
        (data) =>
          void mends.mend([
            {
              kind: "set-mode",
              tonic: String(data.get("tonic")),
              mode: String(data.get("mode")) as ModeName,
            },
          ]),
      );
    },
  };
}
