/** Actions of listening and looking: they never wait for a mend. */
import type { Action, Desk } from "./actions.js";
import { caretSec } from "./model.js";
import { SPEEDS, stretchToLoop } from "./player.js";

export function listenActions(desk: Desk): Action[] {
  const { model, player, tell } = desk;
  const speed = (way: 1 | -1): void => {
    model.speed =
      Math.round(Math.min(SPEEDS.most, Math.max(SPEEDS.least, model.speed + way * SPEEDS.step)) * 10) / 10;
    player.setSpeed();
    tell.say(`Speed ${Math.round(model.speed * 100)} %.`);
    desk.changed();
  };

  return [
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
      words: "slower, down to 40\u00a0%",
      run: () => speed(-1),
    },
    { id: "faster", keys: ["+", "="], shown: "+", group: "Listen", words: "faster", run: () => speed(1) },
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
}
