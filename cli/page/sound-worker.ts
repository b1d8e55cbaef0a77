/** The thread that decodes the recording and draws its picture. */
import { answerQuestions } from "../thread.js";
import { type OpenSound, openSound, type SharedSound } from "./sound.js";

let sound: OpenSound | undefined;

function opened(): OpenSound {
  if (!sound) throw new Error("no recording is open");
  return sound;
}

answerQuestions({
  async open(path: string): Promise<SharedSound> {
    sound = await openSound(path);
    return { take: sound.take, peaks: sound.peaks };
  },
  tile: (tileIdx: number) => opened().tile(tileIdx),
  wav: () => opened().wav(),
});
