/** A finished file: name without folder, IANA media type, bytes. */
export type ExportFile = { fileName: string; mediaType: string; bytes: Uint8Array };
