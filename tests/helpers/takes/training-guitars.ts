// The guitars that the listener is trained on, as banks for takes: only for weights whose training left the guitar out.
// In: ../shared/guitars (its README names origins and licences). Out: a Bank at 22 050 Hz, levels matched, pitch measured.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import decode from "audio-decode";
import { SHARED } from "../needs.js";
import type { Bank, BankName, BankNote } from "./bank.js";
import { centsOff, rms } from "./wave.js";

const RATE = 22050;
const LEVEL = 0.1;
const ATTACK_SEC = 0.003;

/** @throws Error when the guitar is not there */
export async function loadTrainingGuitar(guitar: string): Promise<Bank> {
  const folder = join(SHARED, "guitars");
  const index = JSON.parse(readFileSync(join(folder, "index.json"), "utf8")) as {
    file: string;
    guitar: string;
    midi: number;
  }[];
  const rows = index.filter((row) => row.guitar === guitar);
  if (rows.length === 0) throw new Error(`no guitar ${guitar} in ${folder}`);
  const notes: BankNote[] = [];
  for (const { file, midi } of rows) {
    const sound = (await decode(readFileSync(join(folder, file)))).channelData[0] as Float32Array;
    const lead = new Float32Array(sound.length + Math.round(ATTACK_SEC * RATE));
    lead.set(sound, lead.length - sound.length);
    const gain = LEVEL / Math.max(1e-6, rms(lead, 0, Math.round(0.3 * RATE)));
    const samples = lead.map((x) => x * gain);
    const cents =
      centsOff(samples.subarray(Math.round(0.08 * RATE)), RATE, 440 * 2 ** ((midi - 69) / 12)) ?? 0;
    notes.push({ midi, cents, velocity: 0.7, samples });
  }
  return { name: guitar as BankName, sampleRateHz: RATE, attackSec: ATTACK_SEC, notes };
}
