// What the server is asked about versions of flights, settings and sheets.
import { call, json, lines, post } from "./client";
import { decodeColumns, type Columns } from "./columns";
import type { CompareRequest, Flight, FlightVersion, RowEffect, Setting, SettingsFile, SheetText, VersionComparison } from "./types";

const columnsOf = async (path: string, body: unknown, signal: AbortSignal | undefined): Promise<Columns> => {
  const answer = await call(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), ...(signal ? { signal } : {}) });
  return decodeColumns(await answer.arrayBuffer());
};

export const versionFlight = (version: FlightVersion, signal?: AbortSignal): Promise<Flight> => post("api/versions/flight", { version }, signal);
export const versionColumns = (version: FlightVersion, signal?: AbortSignal): Promise<Columns> => columnsOf("api/versions/columns", { version }, signal);
export const compare = (q: CompareRequest, signal: AbortSignal): Promise<VersionComparison> => post("api/compare", q, signal);
export const differences = (q: CompareRequest, signal: AbortSignal): Promise<Columns> => columnsOf("api/compare/differences", q, signal);
export const settingsText = (): Promise<SettingsFile> => json("api/settings/text");
export const explainSettings = (file: SettingsFile, signal?: AbortSignal): Promise<readonly Setting[]> => post("api/settings/explain", file, signal);
export const flightSheet = (id: string): Promise<SheetText> => json(`api/flights/${encodeURIComponent(id)}/sheet`);

/** What today's methods make of lines that another version of the program made; keep makes those lines anew. */
export const today = async (flights: readonly string[], keep: boolean, signal: AbortSignal, onEffect: (e: RowEffect) => void): Promise<void> => {
  await lines(keep ? "api/today" : "api/today/effects", { flights }, signal, (l) => {
    if (l.today !== undefined) onEffect(l.today);
  });
};
