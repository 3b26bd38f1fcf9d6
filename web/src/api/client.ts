// The only place that speaks to the server.
import { decodeColumns, type Columns } from "./columns";
import type {
  AddedFile, CameDown, Change, Decided, DecisionRequest, Desk, DeskFile, DeskPlan, DeskRequest, DeskStart, Diagram, Effect, FinishRequest, Flight, Group, GroupChoices, GroupEffectsRequest, GroupLine, GroupRefusal, GroupRevokeRequest, GroupStoreRequest, Indices, LevelSet, Live, Logbook, Preview,
  Problem, Product, RecoveryList, RecoveryRequest, RevokeRequest, Setting, SettingsInForce, SheetName, SheetText, Signature, SignRequest, Stale, Suggestion, Trail,
} from "./types";

/** The server answered with a refusal. */
export class Refusal extends Error {
  constructor(readonly status: number, sentence: string, readonly stale: Stale | undefined, readonly signed: Signature | undefined) {
    super(sentence);
  }
}

/** The server did not answer. */
export class Unreachable extends Error {
  constructor() {
    super("leadline does not answer");
  }
}

export async function call(path: string, init?: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(path, { credentials: "same-origin", cache: "no-store", ...init });
  } catch (e) {
    if (init?.signal?.aborted === true) throw e;
    throw new Unreachable();
  }
  if (answer.ok) return answer;
  let problem: Problem = { error: `the server answered ${answer.status}` };
  try {
    problem = (await answer.json()) as Problem;
  } catch {
    // Not one of our answers; the status says enough.
  }
  throw new Refusal(answer.status, problem.error, problem.stale, problem.signed);
}

export const json = async <T>(path: string, init?: RequestInit): Promise<T> => (await (await call(path, init)).json()) as T;
export const post = <T>(path: string, body: unknown, signal?: AbortSignal): Promise<T> =>
  json<T>(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), ...(signal ? { signal } : {}) });
const one = (id: string): string => `api/flights/${encodeURIComponent(id)}`;

export const logbook = (): Promise<Logbook> => json("api/flights");
export const flight = (id: string): Promise<Flight> => json(one(id));
export const columns = async (id: string): Promise<Columns> => decodeColumns(await (await call(`${one(id)}/columns`)).arrayBuffer());
export const trail = (id: string, variable: string, time: number): Promise<Trail> =>
  json(`${one(id)}/trail?variable=${encodeURIComponent(variable)}&time_s=${time}`);
export const flightSettings = (id: string): Promise<SettingsInForce> => json(`${one(id)}/settings`);
export const settings = (): Promise<readonly Setting[]> => json("api/settings");
export const sheets = (): Promise<readonly SheetName[]> => json("api/sheets");
export const sheet = (name: string): Promise<SheetText> => json(`api/sheets/${encodeURIComponent(name)}`);
export const preview = (id: string, q: DecisionRequest, signal: AbortSignal): Promise<Preview> => post(`${one(id)}/preview`, q, signal);
export const previewColumns = async (id: string, q: DecisionRequest, signal: AbortSignal): Promise<Columns> => {
  const answer = await call(`${one(id)}/preview/columns`, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(q), signal,
  });
  return decodeColumns(await answer.arrayBuffer());
};
export const decide = (id: string, q: DecisionRequest): Promise<Decided> => post(`${one(id)}/decisions`, q);
export const revoke = (id: string, decision: string, q: RevokeRequest): Promise<Decided> =>
  post(`${one(id)}/decisions/${encodeURIComponent(decision)}/revoke`, q);
export const undo = (id: string, q: RevokeRequest): Promise<Decided> => post(`${one(id)}/undo`, q);
export const redo = (id: string, q: RevokeRequest): Promise<Decided> => post(`${one(id)}/redo`, q);
export const sign = (id: string, q: SignRequest): Promise<Decided> => post(`${one(id)}/signature`, q);
export const reopen = (id: string, q: RevokeRequest): Promise<Decided> => post(`${one(id)}/reopening`, q);
export const diagram = (): Promise<Diagram> => json("api/diagram");
/** The coast of the world; the browser keeps it. */
export const ground = async (): Promise<ArrayBuffer> => (await call("ground.bin", { cache: "default" })).arrayBuffer();
/** Indices of a profile with their uncertainties, or, ten times faster, without. */
export const indices = (id: string, uncertainty: boolean, profile = "ascent"): Promise<Indices> => json(`${one(id)}/indices?profile=${encodeURIComponent(profile)}${uncertainty ? "" : "&uncertainty=no"}`);
/** Levels of a profile of the flight. */
export const levels = (id: string, profile: string): Promise<LevelSet> => json(`${one(id)}/levels?profile=${encodeURIComponent(profile)}`);
export const suggestions = (id: string): Promise<readonly Suggestion[]> => json(`${one(id)}/suggestions`);
export const products = (): Promise<readonly Product[]> => json("api/products");
export const productPath = (id: string, format: string, profile = "ascent"): string => `${one(id)}/products/${encodeURIComponent(format)}${profile === "ascent" ? "" : `?profile=${encodeURIComponent(profile)}`}`;
export const sourcePath = (id: string, sha256: string): string => `${one(id)}/sources/${encodeURIComponent(sha256)}`;

/** What may come along with source files. */
export interface Companions {
  readonly record?: File;
  readonly recipe?: File;
  readonly sheet?: File;
}

/**
 * Adds the sources of one flight to the logbook, or a record alone; flights are sent one by one
 * so that progress can be shown.
 */
export async function add(sources: readonly File[], along: Companions): Promise<readonly AddedFile[]> {
  const form = new FormData();
  for (const [name, f] of Object.entries(along) as [string, File][]) form.append(name, f, f.name);
  if (sources.length > 1) form.append("join", new Blob(["yes"]));
  for (const file of sources) form.append("source", file, file.name);
  return json("api/flights", { method: "POST", body: form });
}

/** One decision for many flights. */
export const groups = (): Promise<readonly Group[]> => json("api/groups");
export const groupChoices = (): Promise<GroupChoices> => json("api/groups/choices");

/** Nothing was stored: these flights stand against it. */
export class GroupRefused extends Error {
  constructor(readonly flights: readonly GroupRefusal[], sentence: string) {
    super(sentence);
  }
}

/** Reads an answer that comes line by line, and returns its last line. */
export async function lines(path: string, body: unknown, signal: AbortSignal, onLine: (l: GroupLine) => void): Promise<GroupLine> {
  const answer = await call(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal });
  const reader = (answer.body as ReadableStream<Uint8Array>).getReader();
  const decoder = new TextDecoder();
  let rest = "";
  for (;;) {
    let part: ReadableStreamReadResult<Uint8Array>;
    try {
      part = await reader.read();
    } catch (e) {
      if (signal.aborted) throw e;
      throw new Unreachable();
    }
    if (part.done) throw new Error("The answer broke off. What was to be stored may be stored: look at the group decisions.");
    rest += decoder.decode(part.value, { stream: true });
    for (let end = rest.indexOf("\n"); end >= 0; end = rest.indexOf("\n")) {
      const line = JSON.parse(rest.slice(0, end)) as GroupLine;
      rest = rest.slice(end + 1);
      if (line.refused !== undefined) throw new GroupRefused(line.refused, line.error ?? "");
      if (line.error !== undefined) throw new Error(line.error);
      if (line.end === true) return line;
      onLine(line);
    }
  }
}

const effectsOf = async (path: string, body: unknown, signal: AbortSignal, onEffect: (e: Effect) => void): Promise<void> => {
  await lines(path, body, signal, (l) => {
    if (l.effect !== undefined) onEffect(l.effect);
  });
};
const stored = async (path: string, body: unknown, signal: AbortSignal, onDone: (n: number) => void): Promise<Group> => {
  const last = await lines(path, body, signal, (l) => onDone(l.done ?? 0));
  return last.group as Group;
};
const group = (id: string): string => `api/groups/${encodeURIComponent(id)}`;
export const groupEffects = (q: GroupEffectsRequest, signal: AbortSignal, onEffect: (e: Effect) => void): Promise<void> => effectsOf("api/groups/effects", q, signal, onEffect);
export const storeGroup = (q: GroupStoreRequest, signal: AbortSignal, onDone: (n: number) => void): Promise<Group> => stored("api/groups", q, signal, onDone);
export const groupRevocation = (id: string, signal: AbortSignal, onEffect: (e: Effect) => void): Promise<void> => effectsOf(`${group(id)}/effects`, {}, signal, onEffect);
export const revokeGroup = (id: string, q: GroupRevokeRequest, signal: AbortSignal, onDone: (n: number) => void): Promise<Group> => stored(`${group(id)}/revoke`, q, signal, onDone);

/** Follows the changes of the logbook until the returned function is called. */
export function follow(onChange: (c: Change) => void, onState: (reachable: boolean) => void): () => void {
  const stream = new EventSource("api/changes");
  stream.addEventListener("change", (e) => onChange(JSON.parse((e as MessageEvent<string>).data) as Change));
  stream.addEventListener("open", () => onState(true));
  stream.addEventListener("error", () => onState(false));
  return () => stream.close();
}

/** The launch desk; the server keeps nothing of a preparation. */
export const desk = (): Promise<DeskStart> => json("api/desk");
export const prepare = (q: DeskRequest, signal: AbortSignal): Promise<Desk> => post("api/desk", q, signal);
export const openPlan = (f: DeskFile): Promise<DeskPlan> => post("api/desk/plan", f);
export const deskFile = async (what: string, q: DeskRequest): Promise<{ readonly name: string; readonly blob: Blob }> => {
  const answer = await call(`api/desk/files/${encodeURIComponent(what)}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(q) });
  const said = answer.headers.get("Content-Disposition") ?? "";
  const full = /filename\*=utf-8''([^;]+)/i.exec(said)?.[1], plain = /filename="?([^";]+)"?/i.exec(said)?.[1];
  return { name: full !== undefined ? decodeURIComponent(full) : (plain ?? `launch.${what}`), blob: await answer.blob() };
};

/** Where a flight's radiosonde is, what became of it, and the label for who finds it. */
export const cameDown = (id: string, contact: { readonly [part: string]: string }): Promise<CameDown> => json(`${one(id)}/recovery?${new URLSearchParams(contact)}`);
export const writeRecovery = (id: string, q: RecoveryRequest): Promise<CameDown> => post(`${one(id)}/recovery`, q);
export const recoveries = (): Promise<RecoveryList> => json("api/recoveries");

/** The flight that the server follows. */
export const live = (): Promise<Live> => json("api/live");
export const liveFlight = (): Promise<Flight> => json("api/live/flight");
export const liveColumns = async (): Promise<Columns> => decodeColumns(await (await call("api/live/columns")).arrayBuffer());
export const finishLive = (q: FinishRequest): Promise<Live> => post("api/live/finish", q);

/** Follows the flight in progress until the returned function is called. */
export function followLive(onLive: (l: Live) => void, onState: (reachable: boolean) => void): () => void {
  const stream = new EventSource("api/live/changes");
  stream.addEventListener("live", (e) => onLive(JSON.parse((e as MessageEvent<string>).data) as Live));
  stream.addEventListener("open", () => onState(true));
  stream.addEventListener("error", () => onState(false));
  return () => stream.close();
}
