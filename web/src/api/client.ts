// The only place that speaks to the server.
import { decodeColumns, type Columns } from "./columns";
import type {
  AddedFile, CameDown, Change, Decided, DecisionRequest, Desk, DeskFile, DeskPlan, DeskRequest, DeskStart, Diagram, FinishRequest, Flight, Indices, LevelSet, Live, Logbook, Preview,
  Problem, Product, RecoveryList, RecoveryRequest, RevokeRequest, Setting, SheetName, SheetText, Signature, SignRequest, Stale, Suggestion, Trail,
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

async function call(path: string, init?: RequestInit): Promise<Response> {
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

const json = async <T>(path: string, init?: RequestInit): Promise<T> => (await (await call(path, init)).json()) as T;
const post = <T>(path: string, body: unknown, signal?: AbortSignal): Promise<T> =>
  json<T>(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), ...(signal ? { signal } : {}) });
const one = (id: string): string => `api/flights/${encodeURIComponent(id)}`;

export const logbook = (): Promise<Logbook> => json("api/flights");
export const flight = (id: string): Promise<Flight> => json(one(id));
export const columns = async (id: string): Promise<Columns> => decodeColumns(await (await call(`${one(id)}/columns`)).arrayBuffer());
export const trail = (id: string, variable: string, time: number): Promise<Trail> =>
  json(`${one(id)}/trail?variable=${encodeURIComponent(variable)}&time_s=${time}`);
export const flightSettings = (id: string): Promise<readonly Setting[]> => json(`${one(id)}/settings`);
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

/** Adds a file to the logbook; files are sent one by one so that progress can be shown. */
export async function add(file: File, along: Companions): Promise<readonly AddedFile[]> {
  const form = new FormData();
  for (const [name, f] of Object.entries(along) as [string, File][]) form.append(name, f, f.name);
  form.append("source", file, file.name);
  return json("api/flights", { method: "POST", body: form });
}

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
