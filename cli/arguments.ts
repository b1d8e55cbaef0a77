/** argv becomes a command with its flags, or one clear error with the nearest word offered. */
import { parseArgs } from "node:util";
import { PulgarError } from "../src/base/errors.js";
import { nearestWord } from "../src/base/nearest.js";
import { COMMANDS, type CommandRow, GENERAL_FLAGS } from "./command-table.js";

export type Flags = { readonly [name: string]: string | boolean | undefined };

export type Parsed =
  | { kind: "help"; row?: CommandRow; isLong: boolean }
  | { kind: "version" }
  | { kind: "run"; row: CommandRow; args: string[]; flags: Flags };

/** @param argv without node and script @throws PulgarError "bad-usage" */
export function parseCommandLine(argv: readonly string[]): Parsed {
  const [first, ...rest] = argv;
  if (first === undefined || first === "-h" || first === "--help" || first === "help") {
    const row = first === "help" && rest[0] !== undefined ? commandRow(rest[0]) : undefined;
    return { kind: "help", isLong: first !== "-h" && first !== undefined, ...(row ? { row } : {}) };
  }
  if (first === "--version" || first === "-V") return { kind: "version" };
  if (first.startsWith("-"))
    throw new PulgarError(
      "bad-usage",
      `${first}: the command comes first`,
      `For instance: ${COMMANDS[0]?.example}`,
    );
  const row = commandRow(first);
  const flagPart = rest.includes("--") ? rest.slice(0, rest.indexOf("--")) : rest;
  if (flagPart.includes("-h")) return { kind: "help", row, isLong: false };
  if (flagPart.includes("--help")) return { kind: "help", row, isLong: true };
  return { kind: "run", row, ...parseFlags(row, rest) };
}

function commandRow(name: string): CommandRow {
  const row = COMMANDS.find((c) => c.name === name);
  if (row) return row;
  const names = COMMANDS.map((c) => c.name);
  const near = nearestWord(name, names);
  throw new PulgarError(
    "bad-usage",
    `${name}: no such command`,
    near ? `Did you mean ${near}?` : `Commands: ${names.join(", ")}.`,
  );
}

function parseFlags(row: CommandRow, rest: readonly string[]): { args: string[]; flags: Flags } {
  const rows = [...row.flags, ...GENERAL_FLAGS];
  const { tokens } = parseArgs({
    args: [...rest],
    options: Object.fromEntries(rows.map((f) => [f.name, { type: f.value ? "string" : "boolean" } as const])),
    strict: false,
    allowPositionals: true,
    tokens: true,
  });
  const flags: Record<string, string | boolean> = {};
  const args: string[] = [];
  for (const token of tokens) {
    if (token.kind === "positional") args.push(token.value);
    if (token.kind !== "option") continue;
    const flag = rows.find((f) => f.name === token.name);
    if (!flag)
      throw unknownFlag(
        row,
        token.rawName,
        rows.map((f) => f.name),
      );
    if (flags[flag.name] !== undefined)
      throw new PulgarError("bad-usage", `--${flag.name} is given twice`, "Give it once.");
    if (!flag.value && token.value !== undefined)
      throw new PulgarError("bad-usage", `--${flag.name} takes no value`, `Write --${flag.name} by itself.`);
    if (flag.value && (token.value === undefined || (!token.inlineValue && /^--[a-z]/.test(token.value))))
      throw new PulgarError(
        "bad-usage",
        `--${flag.name} needs a value`,
        `For instance: --${flag.name} ${flag.choices?.[0] ?? flag.value}`,
      );
    const said = String(token.value);
    const wrong = (flag.isList ? said.split(",") : [said]).find(
      (word) => flag.choices?.includes(word) === false,
    );
    if (flag.choices && wrong !== undefined) {
      const near = nearestWord(wrong, flag.choices);
      throw new PulgarError(
        "bad-usage",
        `--${flag.name} ${wrong}: need ${flag.choices.join(", ")}`,
        near ? `Did you mean ${near}?` : `For instance: --${flag.name} ${flag.choices[0]}`,
      );
    }
    flags[flag.name] = token.value ?? true;
  }
  if (args.length < row.leastArgs || args.length > row.mostArgs)
    throw new PulgarError(
      "bad-usage",
      `${row.name} takes ${row.args || "no arguments"}, found ${args.length === 0 ? "none" : args.length}`,
      `For instance: ${row.example}`,
    );
  return { args, flags };
}

function unknownFlag(row: CommandRow, rawName: string, names: readonly string[]): PulgarError {
  const near = nearestWord(rawName.replace(/^-+/, ""), names);
  return new PulgarError(
    "bad-usage",
    `${rawName}: ${row.name} has no such flag`,
    near ? `Did you mean --${near}?` : `pulgar ${row.name} --help lists them.`,
  );
}

/** Value of a flag that takes one; undefined when it is not given. */
export function textFlag(flags: Flags, name: string): string | undefined {
  const value = flags[name];
  return typeof value === "string" ? value : undefined;
}
