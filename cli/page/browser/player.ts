/** Sound: the recording, the sheet as plucked strings, or one in each ear; loops; speed with the pitch kept.
 * The recording is the clock where there is one; without it the audio device's own clock is. */
import { byId, el } from "./dom.js";
import { type Model, selected } from "./model.js";
import { makePlucks, type Plucks } from "./plucks.js";

const AHEAD_SEC = 0.18; // plucks are set this far ahead of the sound, on the wall clock
const TICK_MS = 40;

export const SPEEDS = { least: 0.4, most: 1, step: 0.1 } as const;

export type Player = {
  media: HTMLVideoElement;
  play: (fromSec?: number) => void;
  stop: () => void;
  seek: (sec: number) => void;
  /** Where the sound is right now. */
  nowSec: () => number;
  setSound: () => void;
  setSpeed: () => void;
  /** The recording as the server has it now. */
  setTake: () => void;
};

export function makePlayer(model: Model, onChange: () => void, onTrouble: (words: string) => void): Player {
  const media = el("video", {
    id: "recording",
    preload: "auto",
    playsinline: true,
    tabindex: -1,
    "aria-hidden": "true",
  });
  let context: AudioContext | undefined;
  let takeGain: GainNode | undefined;
  let takePan: StereoPannerNode | undefined;
  let plucks: Plucks | undefined;
  let timer: number | undefined;
  let plucked = 0; // the sheet is set up to here, in its own seconds
  let hasMedia = false;
  let startedAt = 0; // of the device clock, for a sheet without a recording
  let startedSec = 0;

  function wake(): AudioContext {
    if (!context) {
      context = new AudioContext({ latencyHint: "interactive" });
      takeGain = context.createGain();
      takePan = context.createStereoPanner();
      context.createMediaElementSource(media).connect(takeGain).connect(takePan).connect(context.destination);
      plucks = makePlucks(context);
      setSound();
    }
    void context.resume();
    return context;
  }

  const usesMedia = (): boolean => hasMedia && model.playSec < media.duration;

  function nowSec(): number {
    if (!model.isPlaying) return model.playSec;
    if (usesMedia()) return media.currentTime;
    return startedSec + ((context?.currentTime ?? 0) - startedAt) * model.speed;
  }

  function setSound(): void {
    const { sound } = model;
    takeGain?.gain.setTargetAtTime(sound === "sheet" ? 0 : 1, context?.currentTime ?? 0, 0.01);
    if (takePan) takePan.pan.value = sound === "both" ? -1 : 0;
    plucks?.setPan(sound === "both" ? 1 : 0);
    plucks?.silence();
    plucked = nowSec();
  }

  function setSpeed(): void {
    media.playbackRate = model.speed;
    media.preservesPitch = true;
    startedSec = nowSec();
    startedAt = context?.currentTime ?? 0;
    plucks?.silence();
    plucked = startedSec;
  }

  function seek(sec: number): void {
    const to = Math.max(0, Math.min(sec, model.state.sheet.durationSec));
    model.playSec = to;
    if (hasMedia) media.currentTime = Math.min(to, Math.max(0, media.duration - 0.01));
    startedSec = to;
    startedAt = context?.currentTime ?? 0;
    plucks?.silence();
    plucked = to;
    onChange();
  }

  function play(fromSec?: number): void {
    wake();
    const loop = model.loop;
    let from = fromSec ?? model.playSec;
    if (loop && (from < loop.fromSec || from >= loop.toSec - 0.02)) from = loop.fromSec;
    if (from >= model.state.sheet.durationSec - 0.05) from = 0;
    seek(from);
    model.isPlaying = true;
    setSpeed();
    if (usesMedia())
      media.play().catch((e: unknown) => {
        if ((e as Error).name !== "AbortError")
          onTrouble(`The recording cannot be played here (${(e as Error).name}).`);
      });
    clearInterval(timer);
    timer = window.setInterval(tick, TICK_MS);
    onChange();
  }

  function stop(): void {
    model.playSec = nowSec();
    model.isPlaying = false;
    media.pause();
    plucks?.silence();
    clearInterval(timer);
    onChange();
  }

  function tick(): void {
    const now = nowSec();
    model.playSec = now;
    const { loop } = model;
    if (loop && now >= loop.toSec) {
      seek(loop.fromSec);
      if (usesMedia() && media.paused) void media.play();
      return;
    }
    if (now >= model.state.sheet.durationSec) {
      stop();
      return;
    }
    if (!usesMedia() && !media.paused) media.pause();
    if (model.sound === "recording" && hasMedia) {
      plucked = now;
      return;
    }
    const until = Math.min(now + AHEAD_SEC * model.speed, loop?.toSec ?? Number.POSITIVE_INFINITY);
    if (plucked < now) plucked = now;
    for (const note of model.state.sheet.notes) {
      if (note.startSec < plucked || note.startSec >= until || note.marks.includes("tie")) continue;
      plucks?.pluck(note, (note.startSec - now) / model.speed, (note.endSec - note.startSec) / model.speed);
    }
    plucked = Math.max(plucked, until);
  }

  function setTake(): void {
    const { take } = model.state;
    if (take.kind !== "ready" || media.src) return;
    media.src = "./recording";
    media.addEventListener("loadedmetadata", () => {
      hasMedia = true;
      byId("recording").classList.toggle("film", media.videoWidth > 0);
      onChange();
    });
    media.addEventListener("error", () => {
      if (media.src.endsWith("/recording.wav")) onTrouble("The recording cannot be played in this browser.");
      else media.src = "./recording.wav"; // the browser lacks the format: our own copy of the sound
    });
    media.addEventListener("ended", () => {
      startedSec = media.duration;
      startedAt = context?.currentTime ?? 0;
      model.playSec = media.duration;
    });
  }

  return { media, play, stop, seek, nowSec, setSound, setSpeed, setTake };
}

/** What a loop key loops: the selection, or the bar at the caret. */
export function stretchToLoop(model: Model): { fromSec: number; toSec: number } | undefined {
  const chosen = selected(model);
  if (chosen) return chosen;
  const bar = model.state.sheet.bars.find((b) => b.bar === model.caret.bar);
  return bar && { fromSec: bar.startSec, toSec: bar.endSec };
}
