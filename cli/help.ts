/** Help, completion and the manual page, all written from the command table. */
import { COMMANDS, type CommandRow, EXIT_CODES, type FlagRow, GENERAL_FLAGS } from "./command-table.js";

const flagHead = (flag: FlagRow): string => `--${flag.name}${flag.value ? ` ${flag.value}` : ""}`;

const flagLines = (flags: readonly FlagRow[]): string =>
  flags.map((flag) => `  ${flagHead(flag).padEnd(22)} ${flag.summary}\n`).join("");

const exitLines = (): string =>
  EXIT_CODES.map(([code, text]) => `  ${String(code).padEnd(5)}${text}\n`).join("");

/** Help of the whole program. @param isLong `--help` shows exit codes and general flags too */
export function programHelp(isLong: boolean): string {
  const commands = COMMANDS.map((c) => `  ${`${c.name} ${c.args}`.padEnd(20)} ${c.summary}\n`).join("");
  const head = `pulgar listens to a fingerstyle guitar take and drafts the sheet for students.\n\nFor example:\n  ${COMMANDS[0]?.example}\n\nCommands:\n${commands}`;
  const tail = "\npulgar COMMAND -h tells of one command; pulgar --version says which parts are in use.\n";
  return isLong
    ? `${head}\nEvery command:\n${flagLines(GENERAL_FLAGS)}\nExit codes:\n${exitLines()}${tail}`
    : head + tail;
}

/** Help of one command: short shows the common flags, long all. */
export function commandHelp(row: CommandRow, isLong: boolean): string {
  const shown = isLong ? row.flags : row.flags.filter((flag) => flag.isCommon);
  const more = row.flags.length > shown.length ? "  --help shows the rest\n" : "";
  const parts = [
    `pulgar ${row.name}: ${row.summary}\n`,
    `For example:\n  ${row.example}\n`,
    `Use:\n  pulgar ${row.name} ${row.args}${row.flags.length > 0 ? " [flags]" : ""}\n`,
  ];
  if (shown.length > 0 || more) parts.push(`Flags:\n${flagLines(shown)}${more}`);
  if (isLong) parts.push(`Every command:\n${flagLines(GENERAL_FLAGS)}`);
  if (row.detail.length > 0) parts.push(`${row.detail.join("\n")}\n`);
  if (isLong) parts.push(`Exit codes:\n${exitLines()}`);
  return parts.join("\n");
}

/** A completion script. @param shell "bash", "zsh" or "fish" */
export function completionScript(shell: "bash" | "zsh" | "fish"): string {
  const names = COMMANDS.map((c) => c.name);
  const flagsOf = (row: CommandRow): string[] =>
    [...row.flags, ...GENERAL_FLAGS].map((flag) => `--${flag.name}`);
  if (shell === "fish") {
    const lines = COMMANDS.flatMap((row) => [
      `complete -c pulgar -n __fish_use_subcommand -f -a ${row.name} -d '${row.summary.replaceAll("'", "\\'")}'`,
      ...[...row.flags, ...GENERAL_FLAGS].map(
        (flag) =>
          `complete -c pulgar -n '__fish_seen_subcommand_from ${row.name}' -l ${flag.name}${flag.value ? " -r" : ""}${flag.choices ? ` -f -a '${flag.choices.join(" ")}'` : ""}`,
      ),
    ]);
    return `${lines.join("\n")}\n`;
  }
  const cases = COMMANDS.map((row) => `    ${row.name}) flags="${flagsOf(row).join(" ")}" ;;`).join("\n");
  const body = `_pulgar() {
  local cur="\${COMP_WORDS[COMP_CWORD]}" flags=""
  if [ "$COMP_CWORD" -eq 1 ]; then COMPREPLY=( $(compgen -W "${names.join(" ")}" -- "$cur") ); return; fi
  case "\${COMP_WORDS[1]}" in
${cases}
  esac
  case "$cur" in
    -*) COMPREPLY=( $(compgen -W "$flags" -- "$cur") ) ;;
    *) COMPREPLY=( $(compgen -f -- "$cur") ) ;;
  esac
}
complete -o filenames -F _pulgar pulgar
`;
  return shell === "zsh" ? `autoload -U +X bashcompinit && bashcompinit\n${body}` : body;
}

/** The manual page in roff (man(7)). */
export function manPage(version: string): string {
  const esc = (text: string): string =>
    text
      .replaceAll("\\", "\\\\")
      .replaceAll("-", "\\-")
      .replace(/^([.'])/, "\\&$1");
  const flag = (row: FlagRow): string => `.TP\n.B ${esc(flagHead(row))}\n${esc(row.summary)}`;
  const command = (row: CommandRow): string =>
    [
      `.SS ${esc(`pulgar ${row.name} ${row.args}`)}`,
      esc(`${row.summary[0]?.toUpperCase()}${row.summary.slice(1)}.`),
      ...row.detail.map(esc),
      ".PP",
      `.B ${esc(row.example)}`,
      ...row.flags.map(flag),
    ].join("\n");
  return [
    `.TH PULGAR 1 "" "pulgar ${version}"`,
    ".SH NAME",
    "pulgar \\- draft the sheet of a recorded fingerstyle guitar take",
    ".SH SYNOPSIS",
    ".B pulgar\nCOMMAND [flags]",
    ".SH COMMANDS",
    ...COMMANDS.map(command),
    ".SH EVERY COMMAND",
    ...GENERAL_FLAGS.map(flag),
    ".SH EXIT STATUS",
    ...EXIT_CODES.map(([code, text]) => `.TP\n.B ${code}\n${esc(text)}`),
    "",
  ].join("\n");
}
