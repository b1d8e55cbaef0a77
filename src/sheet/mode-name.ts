import type { ModeName } from "../harmony/harmony.js";
import { MODES } from "../theory/scale-table.js";

/** Every mode name of the JSON, in the order of the contract. */
export const MODE_NAMES: readonly ModeName[] = MODES.map((row) => row.mode);
