/** Actions that move the caret. */
import type { Action, Desk } from "./actions.js";
import { caretSec, type Model, STEP_WORDS, STEPS } from "./model.js";
import { barFrom, differingFrom, stepFrom, unsureFrom } from "./steps.js";

export function goActions(desk: Desk): Action[] {
  const { model, player, tell } = desk;
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
  function stepBy(way: 1 | -1): void {
    const idx = STEPS.indexOf(model.stepTicks as (typeof STEPS)[number]);
    model.stepTicks = STEPS[Math.max(0, Math.min(STEPS.length - 1, idx + way))] ?? 12;
    tell.say(`Step: ${STEP_WORDS[model.stepTicks]}.`);
    desk.changed();
  }

  return [
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
      words: "finer step",
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
  ];
}
