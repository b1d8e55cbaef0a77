/** Everything the page can do, one row an action: its keys, its words, what it does. The keyboard, the list of keys and the buttons read it. */
import type { LeftFinger, PickFinger } from "../../../src/hands/fretted.js";
import { type Mends, refOf, type Tell } from "./mends.js";
import { caretSec, type Model, noteAtCaret, notesOfBar, STEP_WORDS, STEPS, secAt, ZOOM } from "./model.js";
import { type Player, SPEEDS, stretchToLoop } from "./player.js";
import { barFrom, differingFrom, stepFrom, unsureFrom } from "./steps.js";

export type Action = {
  id: string;
  /** As KeyboardEvent names them: "Ctrl+Shift+Z", "ArrowLeft", "Alt+Digit1"; the first is shown. */
  keys: readonly string[];
  shown: string;
  group: "Listen" | "Go" | "Mend" | "Keep" | "Look";
  words: string;
  run: (key: string) => void;
};

export type Desk = {
  model: Model;
  mends: Mends;
  player: Player;
  tell: Tell;
  changed: () => void;
  /** Brings the caret into view. */
  show: () => void;
  openChord: () => void;
  openGrid: () => void;
  openTitle: () => void;
  openMode: () => void;
  toggleKeys: () => void;
  toggleFilm: () => void;
  zoom: (factor: number) => void;
};

const TYPING_MS = 900; // a second digit within this joins the first: 1 2 is fret 12
const HIGHEST_TYPED = 24;

export function makeActions(desk: Desk): Action[] {
  const { model, mends, player, tell } = desk;
  let typed = { text: "", at: "", whenMs: 0 };

  const go = (caret: Model["caret"] | undefined, keepsAnchor = false): void => {
    if (!caret) return;
    if (!keepsAnchor) model.anchorSec = undefined;
    model.caret = caret;
    if (!model.isPlaying) player.seek(caretSec(model));
    desk.show();
    desk.changed();
  };
  const select = (move: () => Model["caret"]): void => {
    model.anchorSec ??= caretSec(model);
    go(move(), true);
  };
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
  const typeFret = (digit: string): void => {
    const { bar, tick, string } = model.caret;
    const at = `${bar}:${tick}:${string}`;
    const nowMs = performance.now();
    const joined = typed.at === at && nowMs - typed.whenMs < TYPING_MS ? typed.text + digit : digit;
    const text = Number(joined) <= HIGHEST_TYPED ? joined : digit;
    typed = { text, at, whenMs: nowMs };
    void mends.settled().then(() => {
      const note = model.state.sheet.notes.find(
        (n) => n.bar === bar && n.tick === tick && n.string === string,
      );
      void mends.mend(
        note
          ? [{ kind: "set-fret", at: refOf(note), fret: Number(text) }]
          : [{ kind: "add-note", note: { bar, tick, string, fret: Number(text) } }],
      );
    });
  };
  const moveFirstBeat = (sec: number): void =>
    void mends.mend([{ kind: "set-grid", firstBeatSec: Math.round(sec * 1000) / 1000 }]);
  const speed = (way: 1 | -1): void => {
    model.speed =
      Math.round(Math.min(SPEEDS.most, Math.max(SPEEDS.least, model.speed + way * SPEEDS.step)) * 10) / 10;
    player.setSpeed();
    tell.say(`Speed ${Math.round(model.speed * 100)} %.`);
    desk.changed();
  };

  const rows: Action[] = [
    {
      id: "play",
      keys: ["Space"],
      shown: "Space",
      group: "Listen",
      words: "play, stop",
      run: () => (model.isPlaying ? player.stop() : player.play()),
    },
    {
      id: "play-caret",
      keys: ["Shift+Space"],
      shown: "Shift Space",
      group: "Listen",
      words: "play from the caret",
      run: () => player.play(caretSec(model)),
    },
    {
      id: "sound",
      keys: ["l"],
      shown: "L",
      group: "Listen",
      words: "recording, sheet, one in each ear",
      run: () => {
        model.sound = model.sound === "recording" ? "sheet" : model.sound === "sheet" ? "both" : "recording";
        player.setSound();
        tell.say(
          {
            recording: "The recording sounds.",
            sheet: "The sheet sounds.",
            both: "Recording left, sheet right.",
          }[model.sound],
        );
        desk.changed();
      },
    },
    {
      id: "loop",
      keys: ["r"],
      shown: "R",
      group: "Listen",
      words: "loop the bar or the selection",
      run: () => {
        model.loop = model.loop ? undefined : stretchToLoop(model);
        tell.say(model.loop ? "Loop on." : "Loop off.");
        desk.changed();
      },
    },
    {
      id: "slower",
      keys: ["-"],
      shown: "−",
      group: "Listen",
      words: "slower, down to 40 %",
      run: () => speed(-1),
    },
    { id: "faster", keys: ["+", "="], shown: "+", group: "Listen", words: "faster", run: () => speed(1) },

    {
      id: "back",
      keys: ["ArrowLeft"],
      shown: "←",
      group: "Go",
      words: "a step back",
      run: () => go(stepFrom(model, model.caret, -1)),
    },
    {
      id: "on",
      keys: ["ArrowRight"],
      shown: "→",
      group: "Go",
      words: "a step on",
      run: () => go(stepFrom(model, model.caret, 1)),
    },
    {
      id: "string-up",
      keys: ["ArrowUp"],
      shown: "↑",
      group: "Go",
      words: "string above",
      run: () => go({ ...model.caret, string: Math.max(1, model.caret.string - 1) }, true),
    },
    {
      id: "string-down",
      keys: ["ArrowDown"],
      shown: "↓",
      group: "Go",
      words: "string below",
      run: () => go({ ...model.caret, string: Math.min(6, model.caret.string + 1) }, true),
    },
    {
      id: "bar-back",
      keys: ["PageUp", "Ctrl+ArrowLeft"],
      shown: "Page up",
      group: "Go",
      words: "bar back",
      run: () => go(barFrom(model, model.caret, -1)),
    },
    {
      id: "bar-on",
      keys: ["PageDown", "Ctrl+ArrowRight"],
      shown: "Page down",
      group: "Go",
      words: "bar on",
      run: () => go(barFrom(model, model.caret, 1)),
    },
    {
      id: "first",
      keys: ["Home"],
      shown: "Home",
      group: "Go",
      words: "first bar",
      run: () => go({ ...model.caret, bar: model.state.sheet.bars[0]?.bar ?? 1, tick: 0 }),
    },
    {
      id: "last",
      keys: ["End"],
      shown: "End",
      group: "Go",
      words: "last bar",
      run: () => go({ ...model.caret, bar: model.state.sheet.bars.at(-1)?.bar ?? 1, tick: 0 }),
    },
    {
      id: "unsure-on",
      keys: ["n"],
      shown: "N",
      group: "Go",
      words: "next unsure note",
      run: () => {
        const to = unsureFrom(model, model.caret, 1);
        if (to) go(to);
        else tell.say("No unsure note is left.");
      },
    },
    {
      id: "unsure-back",
      keys: ["Shift+N"],
      shown: "Shift N",
      group: "Go",
      words: "unsure note before",
      run: () => go(unsureFrom(model, model.caret, -1)),
    },
    {
      id: "differs-on",
      keys: ["d"],
      shown: "D",
      group: "Go",
      words: "next bar that differs from the recording",
      run: () => {
        const to = differingFrom(model, model.caret, 1);
        if (to) go(to);
        else tell.say(model.state.check.kind === "done" ? "No bar differs." : model.state.check.why);
      },
    },
    {
      id: "differs-back",
      keys: ["Shift+D"],
      shown: "Shift D",
      group: "Go",
      words: "differing bar before",
      run: () => go(differingFrom(model, model.caret, -1)),
    },
    {
      id: "select-on",
      keys: ["Shift+ArrowRight"],
      shown: "Shift →",
      group: "Go",
      words: "select on",
      run: () => select(() => stepFrom(model, model.caret, 1)),
    },
    {
      id: "select-back",
      keys: ["Shift+ArrowLeft"],
      shown: "Shift ←",
      group: "Go",
      words: "select back",
      run: () => select(() => stepFrom(model, model.caret, -1)),
    },
    {
      id: "step",
      keys: ["s"],
      shown: "S",
      group: "Go",
      words: "finer step (Shift S: coarser)",
      run: () => stepBy(1),
    },
    {
      id: "step-coarser",
      keys: ["Shift+S"],
      shown: "Shift S",
      group: "Go",
      words: "coarser step",
      run: () => stepBy(-1),
    },

    {
      id: "fret",
      keys: [..."0123456789"],
      shown: "0 … 24",
      group: "Mend",
      words: "fret; where no note is, add one",
      run: (key) => typeFret(key),
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
      run: () =>
        onNote((note) => {
          const to = note.alternatives[0];
          if (!to) return tell.say("This note has no other place.");
          void mends.mend([{ kind: "accept-alternative", at: refOf(note), alternativeIdx: 0 }], {
            ...model.caret,
            string: to.string,
          });
        }),
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
      run: () => onNote((note) => void mends.mend([{ kind: "release-note", at: refOf(note) }])),
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
    {
      id: "farther",
      keys: ["Shift+Z"],
      shown: "Shift Z",
      group: "Look",
      words: "farther",
      run: () => desk.zoom(0.8),
    },
    {
      id: "doubtful",
      keys: ["h"],
      shown: "H",
      group: "Look",
      words: "doubtful sounds shown or not",
      run: () => {
        model.showsDoubtful = !model.showsDoubtful;
        tell.say(model.showsDoubtful ? "Doubtful sounds shown." : "Doubtful sounds hidden.");
        desk.changed();
      },
    },
    {
      id: "film",
      keys: ["v"],
      shown: "V",
      group: "Look",
      words: "film larger or smaller",
      run: () => desk.toggleFilm(),
    },
    {
      id: "keys",
      keys: ["?", "k"],
      shown: "?",
      group: "Look",
      words: "this list",
      run: () => desk.toggleKeys(),
    },
  ];

  function stepBy(way: 1 | -1): void {
    const idx = STEPS.indexOf(model.stepTicks as (typeof STEPS)[number]);
    model.stepTicks = STEPS[Math.max(0, Math.min(STEPS.length - 1, idx + way))] ?? 12;
    tell.say(`Step: ${STEP_WORDS[model.stepTicks]}.`);
    desk.changed();
  }

  return rows;
}

/** A key press as the table names it. */
export function keyName(event: KeyboardEvent): string {
  const ctrl = event.ctrlKey || event.metaKey ? "Ctrl+" : "";
  const alt = event.altKey ? "Alt+" : "";
  if (event.altKey && /^Digit\d$/.test(event.code)) return `${ctrl}${alt}${event.code}`;
  if (event.key === " ") return `${ctrl}${alt}${event.shiftKey ? "Shift+" : ""}Space`;
  if (event.key.length > 1) return `${ctrl}${alt}${event.shiftKey ? "Shift+" : ""}${event.key}`;
  const isLetter = event.key.toLowerCase() !== event.key.toUpperCase();
  if (!isLetter) return `${ctrl}${alt}${event.key}`;
  const letter = event.shiftKey || ctrl ? event.key.toUpperCase() : event.key.toLowerCase();
  return `${ctrl}${alt}${event.shiftKey ? "Shift+" : ""}${letter}`;
}

/** Notes at the caret's moment, top string first: what sounds together. */
export const chordAtCaret = (model: Model): string[] =>
  notesOfBar(model, model.caret.bar)
    .filter((n) => n.tick === model.caret.tick)
    .sort((a, b) => a.string - b.string)
    .map((n) => n.pitch);

/** Left edge so that a moment stands at a share of the view. */
export const leftFor = (model: Model, sec: number, share: number): number =>
  Math.max(-0.3, sec - (share * model.viewPx) / model.pxPerSec);

export const zoomTo = (px: number): number => Math.min(ZOOM.most, Math.max(ZOOM.least, px));

export { secAt };
