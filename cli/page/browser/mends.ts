/** Mends on their way to the server: one after the other, each against the version it was made on; and what the user is told when one fails. */
import type { Edit, NoteRef } from "../../../src/sheet/edit.js";
import type { PageNote, PageState } from "../view-types.js";
import { type Answer, loadState, sendMend, sendRedo, sendSiblings, sendUndo } from "./link.js";
import type { Caret, Model } from "./model.js";

export const refOf = (note: PageNote): NoteRef => ({
  bar: note.bar,
  tick: note.tick,
  string: note.string,
  ...(note.marks.includes("grace") ? { grace: true } : {}),
});

export type Mends = {
  mend: (edits: readonly Edit[], caretAfter?: Caret) => Promise<void>;
  undo: () => Promise<void>;
  redo: () => Promise<void>;
  siblings: () => Promise<void>;
  /** Fetches the sheet as the server has it. */
  refresh: () => Promise<void>;
  /** Ends when all that was asked is answered. */
  settled: () => Promise<void>;
  isBusy: () => boolean;
};

export type Tell = { say: (words: string) => void; warn: (words: string) => void };

export function makeMends(model: Model, tell: Tell, changed: () => void): Mends {
  let queue: Promise<void> = Promise.resolve();
  let waiting = 0;

  function inTurn(work: () => Promise<void>): Promise<void> {
    waiting++;
    queue = queue.then(work).finally(() => {
      waiting--;
      document.body.classList.toggle("saving", waiting > 0);
    });
    document.body.classList.add("saving");
    return queue;
  }

  function take(answer: Answer, what: string): boolean {
    switch (answer.kind) {
      case "done":
        model.isGone = false;
        adopt(model, answer.state);
        if (answer.state.notice) tell.say(answer.state.notice);
        changed();
        return true;
      case "behind":
        adopt(model, answer.state);
        changed();
        tell.warn(
          answer.state.notice ??
            "The sheet had changed elsewhere. It is shown as it is now; your last mend was not made.",
        );
        return false;
      case "refused":
        tell.warn([answer.message, answer.hint].filter(Boolean).join(". "));
        void refresh();
        return false;
      case "gone":
        model.isGone = true;
        changed();
        tell.warn(
          `The program has ended. Everything up to here is saved; only this was not: ${what}. Start pulgar review again and open the new address.`,
        );
        return false;
    }
  }

  async function refresh(): Promise<void> {
    try {
      adopt(model, await loadState());
      changed();
    } catch {
      // the stream of events says it when the server has gone
    }
  }

  return {
    mend: (edits, caretAfter) =>
      inTurn(async () => {
        const isDone = take(
          await sendMend(model.state.version, edits),
          edits.map((e) => e.kind.replace("-", " ")).join(", "),
        );
        if (isDone && caretAfter) {
          model.caret = caretAfter;
          changed();
        }
      }),
    undo: () => inTurn(async () => void take(await sendUndo(model.state.version), "undo")),
    redo: () => inTurn(async () => void take(await sendRedo(model.state.version), "redo")),
    siblings: () =>
      inTurn(async () => void take(await sendSiblings(model.state.version), "the same in the other bars")),
    refresh: () => inTurn(refresh),
    settled: () => queue,
    isBusy: () => waiting > 0,
  };
}

/** Takes a new state in; the caret stays where it is, or goes to the nearest bar that is left. */
export function adopt(model: Model, state: PageState): void {
  model.state = state;
  const { bars } = state.sheet;
  const bar = bars.find((b) => b.bar === model.caret.bar) ?? bars.at(-1);
  if (bar)
    model.caret = {
      ...model.caret,
      bar: bar.bar,
      tick: Math.min(model.caret.tick, Math.max(0, bar.ticks - 1)),
    };
}
