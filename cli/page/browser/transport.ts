/** Buttons of the head: play, what sounds, speed, loop, undo, redo. Each names its key. */
import type { Desk } from "./actions.js";
import { byId, el } from "./dom.js";
import { clockText, type Sound, unsureCount } from "./model.js";
import { SPEEDS } from "./player.js";

const SOUND_WORDS: Record<Sound, string> = {
  recording: "recording",
  sheet: "sheet, plucked",
  both: "one in each ear",
};

export function makeTransport(desk: Desk, run: (id: string) => void): { draw: () => void } {
  const { model, player } = desk;
  const button = (id: string, words: string, label: string): HTMLButtonElement =>
    el(
      "button",
      {
        type: "button",
        id: `do-${id}`,
        title: label,
        "aria-label": /[a-z]/i.test(words) ? undefined : label,
        onClick: () => run(id),
      },
      words,
    );
  const play = button("play", "▶", "play (Space)");
  const clock = el("output", { id: "clock", "aria-label": "time" });
  const sound = el(
    "select",
    {
      id: "sound",
      "aria-label": "what sounds (L)",
      title: "what sounds (L)",
      onChange: (event) => {
        model.sound = (event.target as HTMLSelectElement).value as Sound;
        player.setSound();
        byId("lane").focus();
        desk.changed();
      },
    },
    ...Object.entries(SOUND_WORDS).map(([value, words]) => el("option", { value }, words)),
  );
  const speed = el("input", {
    type: "range",
    id: "speed",
    min: SPEEDS.least * 100,
    max: SPEEDS.most * 100,
    step: 5,
    "aria-label": "speed in percent (− and +)",
    title: "speed (− and +), pitch kept",
    onInput: (event) => {
      model.speed = Number((event.target as HTMLInputElement).value) / 100;
      player.setSpeed();
      desk.changed();
    },
  });
  const speedWords = el("output", { id: "speed-words" });
  const loop = button("loop", "Loop", "loop the bar or the selection (R)");
  const unsure = button("unsure-on", "Next unsure", "next unsure note (N)");
  byId("transport").replaceChildren(play, clock, sound, speed, speedWords, loop, unsure);
  const undo = button("undo", "Undo", "undo (U)");
  const redo = button("redo", "Redo", "redo (Shift U)");
  const keys = button("keys", "Keys", "list of keys (?)");
  const saved = el("span", { id: "saved" });
  byId("history").replaceChildren(undo, redo, saved, keys);
  byId("title").addEventListener("click", () => run("title"));

  return {
    draw() {
      const { state } = model;
      setText(play, model.isPlaying ? "■" : "▶");
      play.setAttribute("aria-label", model.isPlaying ? "stop (Space)" : "play (Space)");
      setText(clock, clockText(model.playSec));
      if (sound.value !== model.sound) sound.value = model.sound;
      if (Number(speed.value) !== Math.round(model.speed * 100))
        speed.value = String(Math.round(model.speed * 100));
      setText(speedWords, `${Math.round(model.speed * 100)} %`);
      loop.setAttribute("aria-pressed", String(model.loop !== undefined));
      setText(unsure, `Next unsure (${unsureCount(model)})`);
      undo.disabled = state.undo === null;
      redo.disabled = state.redo === null;
      undo.title = state.undo ? `undo ${state.undo} (U)` : "nothing to undo";
      redo.title = state.redo ? `redo ${state.redo} (Shift U)` : "nothing to redo";
      setText(
        saved,
        model.isGone ? "not connected" : document.body.classList.contains("saving") ? "saving…" : "saved",
      );
      setText(byId("title"), state.sheet.title);
      setText(
        byId("facts"),
        [
          `${Math.round(state.sheet.tempoBpm * 10) / 10} a minute${state.sheet.tempoFrom === "estimated" ? " (estimated)" : ""}`,
          `${state.sheet.meter.beats}/${state.sheet.meter.unit}`,
          state.sheet.feel === "swing" ? "swing" : "",
          state.sheet.capo > 0 ? `capo ${state.sheet.capo}` : "",
          state.sheet.modeText,
        ]
          .filter(Boolean)
          .join(" · "),
      );
    },
  };
}

function setText(node: HTMLElement, text: string): void {
  if (node.textContent !== text) node.textContent = text;
}
