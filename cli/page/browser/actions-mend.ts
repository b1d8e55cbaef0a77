/** Actions that mend the sheet, and undo. */
import type { LeftFinger, PickFinger } from "../../../src/hands/fretted.js";
import type { Action, Desk } from "./actions.js";
import { refOf } from "./mends.js";
import { noteAtCaret, notesOfBar } from "./model.js";

const TYPING_MS = 900; // a second digit within this joins the first: 1 2 is fret 12
const HIGHEST_TYPED = 24;

export function mendActions(desk: Desk): Action[] {
  const { model, mends, player, tell } = desk;
  let typed = { text: "", at: "", whenMs: 0 };

  const onNote = (what: (note: NonNullable<ReturnType<typeof noteAtCaret>>) => void): void => {
    const note = noteAtCaret(model);
    if (note) what(note);
    else tell.say("There is no note under the caret.");
  };
  const moveString = (way: 1 | -1): void =>
    onNote((note) => {
      const string = note.string + way;
      if (string < 1 || string > 6) return tell.say("There is no string beyond.");
      void mends.mend([{ kind: "move-string", at: refOf(note), string }], { ...model.caret, string });
    });
  const movePlace = (way: 1 | -1): void =>
    onNote((note) => {
      const bar = model.state.sheet.bars.find((b) => b.bar === note.bar);
      if (!bar) return;
      let [to, tick] = [note.bar, note.tick + way * model.stepTicks];
      if (tick < 0)
        [to, tick] = [
          note.bar - 1,
          tick + (model.state.sheet.bars.find((b) => b.bar === note.bar - 1)?.ticks ?? 0),
        ];
      else if (tick >= bar.ticks) [to, tick] = [note.bar + 1, tick - bar.ticks];
      if (!model.state.sheet.bars.some((b) => b.bar === to)) return tell.say("There is no bar beyond.");
      void mends.mend([{ kind: "move-place", at: refOf(note), bar: to, tick }], {
        bar: to,
        tick,
        string: note.string,
      });
    });
  const setLength = (way: 1 | -1): void =>
    onNote((note) => {
      const lengthTicks = Math.max(
        model.stepTicks > note.lengthTicks ? 1 : model.stepTicks,
        note.lengthTicks + way * model.stepTicks,
      );
      void mends.mend([{ kind: "set-length", at: refOf(note), lengthTicks }]);
    });
  /** The old place becomes the first of the others: taking the last one again and again goes round them all. */
  const otherPlace = (idx: number): void =>
    onNote((note) => {
      const to = note.alternatives.at(idx);
      if (!to) return tell.say("This note has no other place.");
      const alternativeIdx = note.alternatives.indexOf(to);
      void mends.mend([{ kind: "accept-alternative", at: refOf(note), alternativeIdx }], {
        ...model.caret,
        string: to.string,
      });
    });
  const typeFret = (digit: string, whenMs: number): void => {
    const { bar, tick, string } = model.caret;
    const at = `${bar}:${tick}:${string}`;
    const joined = typed.at === at && whenMs - typed.whenMs < TYPING_MS ? typed.text + digit : digit;
    const text = Number(joined) <= HIGHEST_TYPED ? joined : digit;
    typed = { text, at, whenMs };
    const note = noteAtCaret(model);
    void mends.mend(
      note
        ? [{ kind: "set-fret", at: refOf(note), fret: Number(text) }]
        : [{ kind: "add-note", note: { bar, tick, string, fret: Number(text) } }],
    );
  };
  const moveFirstBeat = (sec: number): void =>
    void mends.mend([{ kind: "set-grid", firstBeatSec: Math.round(sec * 1000) / 1000 }]);
  return [
    {
      id: "fret",
      keys: [..."0123456789"],
      shown: "0 … 24",
      group: "Mend",
      words: "fret; where no note is, add one",
      isChosenByKey: true,
      run: typeFret,
    },
    {
      id: "delete",
      keys: ["Delete", "Backspace"],
      shown: "Del",
      group: "Mend",
      words: "take the note out",
      run: () => onNote((note) => void mends.mend([{ kind: "delete-note", at: refOf(note) }])),
    },
    {
      id: "to-string-up",
      keys: ["Alt+ArrowUp"],
      shown: "Alt ↑",
      group: "Mend",
      words: "to the string above, same pitch",
      run: () => moveString(-1),
    },
    {
      id: "to-string-down",
      keys: ["Alt+ArrowDown"],
      shown: "Alt ↓",
      group: "Mend",
      words: "to the string below, same pitch",
      run: () => moveString(1),
    },
    {
      id: "place-back",
      keys: ["Alt+ArrowLeft"],
      shown: "Alt ←",
      group: "Mend",
      words: "a step earlier",
      run: () => movePlace(-1),
    },
    {
      id: "place-on",
      keys: ["Alt+ArrowRight"],
      shown: "Alt →",
      group: "Mend",
      words: "a step later",
      run: () => movePlace(1),
    },
    {
      id: "shorter",
      keys: ["[", "Alt+Shift+ArrowLeft"],
      shown: "[",
      group: "Mend",
      words: "a step shorter",
      run: () => setLength(-1),
    },
    {
      id: "longer",
      keys: ["]", "Alt+Shift+ArrowRight"],
      shown: "]",
      group: "Mend",
      words: "a step longer",
      run: () => setLength(1),
    },
    {
      id: "finger",
      keys: ["p", "i", "m", "a"],
      shown: "P I M A",
      group: "Mend",
      words: "picking finger (again: none)",
      isChosenByKey: true,
      run: (key) =>
        onNote(
          (note) =>
            void mends.mend([
              {
                kind: "set-finger",
                at: refOf(note),
                finger: note.finger === key ? "none" : (key as PickFinger),
              },
            ]),
        ),
    },
    {
      id: "left-finger",
      keys: ["Alt+Digit0", "Alt+Digit1", "Alt+Digit2", "Alt+Digit3", "Alt+Digit4"],
      shown: "Alt 0 … 4",
      group: "Mend",
      words: "left finger",
      isChosenByKey: true,
      run: (key) =>
        onNote(
          (note) =>
            void mends.mend([
              { kind: "set-left-finger", at: refOf(note), leftFinger: Number(key.at(-1)) as LeftFinger },
            ]),
        ),
    },
    {
      id: "other-place",
      keys: ["o"],
      shown: "O",
      group: "Mend",
      words: "the likeliest other place",
      run: () => otherPlace(0),
    },
    {
      id: "next-place",
      keys: ["Shift+O"],
      shown: "Shift O",
      group: "Mend",
      words: "each other place in turn",
      run: () => otherPlace(-1),
    },
    {
      id: "marks",
      keys: ["e"],
      shown: "E",
      group: "Mend",
      words: "marks: hammer-on, slide, let ring …",
      run: () => onNote(() => desk.openMarks()),
    },
    {
      id: "settle",
      keys: ["Enter"],
      shown: "Enter",
      group: "Mend",
      words: "right as it is: lock it",
      run: () => onNote((note) => void mends.mend([{ kind: "settle-note", at: refOf(note) }])),
    },
    {
      id: "settle-bar",
      keys: ["Shift+Enter"],
      shown: "Shift Enter",
      group: "Mend",
      words: "lock the whole bar",
      run: () => void mends.mend([{ kind: "settle-bar", bar: model.caret.bar }]),
    },
    {
      id: "release",
      keys: ["Shift+R"],
      shown: "Shift R",
      group: "Mend",
      words: "unlock: leave it to the machine",
      run: () =>
        onNote((note) => {
          void mends.mend([{ kind: "release-note", at: refOf(note) }]).then(() => {
            const now = notesOfBar(model, note.bar).filter(
              (n) => n.tick === note.tick && n.midi === note.midi,
            );
            const [found] = now.length === 1 ? now : [];
            if (found) model.caret = { ...model.caret, string: found.string }; // the machine may have put it elsewhere
            desk.changed();
          });
        }),
    },
    {
      id: "chord",
      keys: ["c"],
      shown: "C",
      group: "Mend",
      words: "chord at the caret",
      run: () => desk.openChord(),
    },
    {
      id: "grid",
      keys: ["g"],
      shown: "G",
      group: "Mend",
      words: "tempo, meter, first beat, feel",
      run: () => desk.openGrid(),
    },
    {
      id: "first-here",
      keys: ["b"],
      shown: "B",
      group: "Mend",
      words: "bar 1 begins where the sound is",
      run: () => moveFirstBeat(player.nowSec()),
    },
    {
      id: "first-earlier",
      keys: [","],
      shown: ",",
      group: "Mend",
      words: "bar 1 10 ms earlier",
      run: () => moveFirstBeat(model.state.sheet.firstBeatSec - 0.01),
    },
    {
      id: "first-later",
      keys: ["."],
      shown: ".",
      group: "Mend",
      words: "bar 1 10 ms later",
      run: () => moveFirstBeat(model.state.sheet.firstBeatSec + 0.01),
    },
    { id: "title", keys: ["t"], shown: "T", group: "Mend", words: "title", run: () => desk.openTitle() },
    {
      id: "mode",
      keys: ["Shift+M"],
      shown: "Shift M",
      group: "Mend",
      words: "key or mode",
      run: () => desk.openMode(),
    },
    {
      id: "siblings",
      keys: ["y"],
      shown: "Y",
      group: "Mend",
      words: "the same in the bars that are alike",
      run: () => (model.state.offer ? void mends.siblings() : tell.say("Nothing is offered for other bars.")),
    },
    {
      id: "undo",
      keys: ["u", "Ctrl+Z"],
      shown: "U",
      group: "Keep",
      words: "undo",
      run: () => (model.state.undo ? void mends.undo() : tell.say("Nothing to undo.")),
    },
    {
      id: "redo",
      keys: ["Shift+U", "Ctrl+Shift+Z", "Ctrl+Y"],
      shown: "Shift U",
      group: "Keep",
      words: "redo",
      run: () => (model.state.redo ? void mends.redo() : tell.say("Nothing to redo.")),
    },
    {
      id: "drop",
      keys: ["Escape"],
      shown: "Esc",
      group: "Keep",
      words: "drop selection, loop, offer",
      run: () => {
        model.anchorSec = undefined;
        model.loop = undefined;
        model.state = { ...model.state, offer: null };
        desk.changed();
      },
    },

    { id: "closer", keys: ["z"], shown: "Z", group: "Look", words: "closer", run: () => desk.zoom(1.25) },
  ];
}
