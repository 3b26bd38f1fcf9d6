// Generated from the Go structs of internal/api by go generate; do not edit.

export interface Logbook {
  readonly version: string;
  readonly flights: readonly Row[] | null;
}

export interface Flight {
  readonly id: string;
  readonly name: string;
  readonly revision: number;
  readonly rows: number;
  readonly zero_utc: string;
  readonly summary: readonly string[] | null;
  readonly verdict: Verdict;
  readonly events: Events;
  readonly record: readonly RecordItem[] | null;
  readonly ticks: readonly Tick[] | null;
  readonly findings: readonly Finding[] | null;
  readonly decisions: readonly Decision[] | null;
  readonly steps: readonly Step[] | null;
  readonly runs: readonly CheckRun[] | null;
  readonly levels: LevelSet;
  readonly profiles: readonly string[] | null;
  readonly tallies: readonly Tally[] | null;
  readonly sheet: SheetName;
  readonly sources: readonly Source[] | null;
  readonly variables: readonly Variable[] | null;
  readonly method_set: string;
  readonly sign_off: SignOff;
  readonly history: readonly Ruling[] | null;
  readonly undo: string;
  readonly redo: string;
}

export interface ColumnsHeader {
  readonly rows: number;
  readonly revision: number;
  readonly zero_utc: string;
  readonly columns: readonly Column[] | null;
}

export interface Trail {
  readonly variable: VariableName;
  readonly unit: string;
  readonly row: number;
  readonly source: string;
  readonly sha256: string;
  readonly line: number;
  readonly time_s: number | null;
  readonly utc: string;
  readonly height_m_msl: number | null;
  readonly raw: number | null;
  readonly raw_flag: number;
  readonly steps: readonly TrailEntry[] | null;
  readonly final: number | null;
  readonly flag: number;
  readonly flag_word: string;
  readonly checks: readonly string[] | null;
  readonly passed: readonly string[] | null;
  readonly not_run: readonly CheckRun[] | null;
  readonly u_independent: number | null;
  readonly u_common: number | null;
  readonly u: number | null;
  readonly findings: readonly Finding[] | null;
  readonly decisions: readonly Decision[] | null;
  readonly method_set: string;
}

export interface DecisionRequest {
  readonly revision: number;
  readonly decision: Decision;
}

export interface RevokeRequest {
  readonly revision: number;
  readonly reason: string;
  readonly who: string;
}

export interface SignRequest {
  readonly revision: number;
  readonly who: string;
  readonly note: string;
  readonly despite_open: boolean;
}

export interface Decided {
  readonly decision?: Decision;
  readonly flight: Flight;
}

export interface Preview {
  readonly difference: Difference;
  readonly indices: readonly IndexChange[] | null;
  readonly flight: Flight;
}

export interface Problem {
  readonly error: string;
  readonly stale?: Stale;
  readonly signed?: Signature;
}

export interface Change {
  readonly flight: string;
  readonly revision: number;
  readonly moved?: readonly Seen[];
}

export interface Setting {
  readonly key: string;
  readonly value: string;
  readonly unit: string;
  readonly default: string;
  readonly from: string;
  readonly source: string;
}

export interface SheetText {
  readonly name: string;
  readonly title: string;
  readonly from: string;
  readonly text: string;
  readonly values: readonly Setting[] | null;
}

export interface AddedFile {
  readonly file: string;
  readonly flights: readonly Added[] | null;
  readonly error?: string;
}

export interface Diagram {
  readonly pressure_hpa: readonly (number | null)[] | null;
  readonly dry_adiabats: readonly DiagramLine[] | null;
  readonly pseudo_adiabats: readonly DiagramLine[] | null;
  readonly mixing_ratios: readonly DiagramLine[] | null;
  readonly saturation: string;
}

export interface Indices {
  readonly set: IndexSet;
  readonly parcels: readonly ParcelPath[] | null;
}

export interface Product {
  readonly format: string;
  readonly about: string;
  readonly whole: boolean;
}

export interface Suggestion {
  readonly name: string;
  readonly sentence: string;
  readonly strength: string;
  readonly gain: number;
  readonly margin: number | null;
  readonly rival?: string;
  readonly flights?: readonly number[];
  readonly decisions: readonly Decision[] | null;
  readonly by_flight?: readonly FlightDecisions[];
  readonly evidence: readonly Evidence[] | null;
  readonly trial?: Trial;
}

export interface Live {
  readonly following: boolean;
  readonly state?: State;
}

export interface FinishRequest {
  readonly who: string;
}

export interface Desk {
  readonly sheet: Sheet | null;
  readonly missing: readonly Remark[] | null;
  readonly chart: Chart | null;
  readonly placed: boolean;
}

export interface DeskStart {
  readonly example: string;
  readonly launch_list: readonly ListStep[] | null;
  readonly sheets: readonly string[] | null;
}

export interface DeskRequest {
  readonly plan: string;
  readonly files?: readonly DeskFile[];
  readonly wind_flight?: string;
  readonly drag_flights?: readonly string[];
}

export interface DeskPlan {
  readonly fields: { readonly [key: string]: string };
  readonly lists: { readonly [key: string]: readonly ({ readonly [key: string]: string })[] | null };
  readonly files: readonly string[] | null;
}

export interface CameDown {
  readonly serial: string;
  readonly last_received: LastReceived;
  readonly landing: Landing;
  readonly label: string;
  readonly entries: readonly Recovery[] | null;
  readonly kept: boolean;
}

export interface RecoveryRequest {
  readonly state: string;
  readonly at_utc?: string;
  readonly who: string;
  readonly place?: Place;
  readonly finder?: string;
  readonly note?: string;
}

export interface RecoveryList {
  readonly kept: boolean;
  readonly torn: boolean;
  readonly entries: readonly Recovery[] | null;
}

export interface GroupEffectsRequest {
  readonly flights: readonly string[] | null;
  readonly proposal: Proposal;
}

export interface GroupStoreRequest {
  readonly flights: readonly Seen[] | null;
  readonly proposal: Proposal;
}

export interface GroupRevokeRequest {
  readonly flights: readonly Seen[] | null;
  readonly reason: string;
  readonly who: string;
}

export interface GroupLine {
  readonly effect?: Effect;
  readonly today?: RowEffect;
  readonly done?: number;
  readonly group?: Group;
  readonly refused?: readonly GroupRefusal[];
  readonly error?: string;
  readonly end?: boolean;
}

export interface GroupChoices {
  readonly items: readonly GroupItem[] | null;
  readonly checks: readonly string[] | null;
  readonly sheets: readonly SheetName[] | null;
  readonly variables: readonly Variable[] | null;
}

export interface VersionRequest {
  readonly version: FlightVersion;
}

export interface CompareRequest {
  readonly a: FlightVersion;
  readonly b: FlightVersion;
  readonly axis?: string;
  readonly bounds_hpa?: readonly number[];
  readonly gap_s?: number;
}

export interface TodayRequest {
  readonly flights: readonly string[] | null;
}

export interface VersionComparison {
  readonly a: ComparedVersion;
  readonly b: ComparedVersion;
  readonly result: ComparisonResult | null;
  readonly effect?: Difference;
}

export interface SettingsFile {
  readonly name: string;
  readonly text: string;
}

export interface SettingsInForce {
  readonly file: SettingsFile;
  readonly from: string;
  readonly values: readonly Setting[] | null;
}

export interface Row {
  readonly id: string;
  readonly name: string;
  readonly site: string;
  readonly nominal_utc?: string;
  readonly release_utc?: string;
  readonly top_m_msl: number | null;
  readonly top_hpa: number | null;
  readonly verdict: string;
  readonly line: string;
  readonly reasons: readonly string[] | null;
  readonly findings: { readonly [key: string]: number };
  readonly open: number;
  readonly state: string;
  readonly reviewer: string;
  readonly signer?: string;
  readonly signed_utc?: string;
  readonly signed_method_set?: string;
  readonly decisions: number;
  readonly revision: number;
  readonly stale?: boolean;
  readonly method_set: string;
  readonly serial: string;
  readonly sheet: string;
  readonly chosen_sheet_sha256?: string;
  readonly chosen_settings_sha256?: string;
  readonly method_set_now?: string;
  readonly sources: readonly string[] | null;
  readonly sketch_temperature_k: readonly (number | null)[] | null;
  readonly sketch_humidity_pct: readonly (number | null)[] | null;
  readonly summary: readonly string[] | null;
  readonly error?: string;
}

export interface Verdict {
  readonly word: string;
  readonly line: string;
  readonly reasons: readonly string[] | null;
}

export interface Events {
  readonly release: Event;
  readonly burst: Event;
  readonly top: Event;
  readonly landing: Event;
  readonly phases: readonly PhaseSpan[] | null;
  readonly end: string;
}

export interface RecordItem {
  readonly path: string;
  readonly label: string;
  readonly unit: string;
  readonly value: string;
  readonly given: string;
  readonly instant: boolean;
}

export interface Tick {
  readonly step: string;
  readonly text?: string;
  readonly at_utc: string;
  readonly who: string;
  readonly note?: string;
}

export interface Finding {
  readonly id: string;
  readonly check: Check;
  readonly variable: VariableName;
  readonly severity: Severity;
  readonly stage: string;
  readonly spans: readonly Span[] | null;
  readonly first_line: number;
  readonly last_line: number;
  readonly first_time_s: number | null;
  readonly last_time_s: number | null;
  readonly first_utc: string;
  readonly last_utc: string;
  readonly bottom_m_msl: number | null;
  readonly top_m_msl: number | null;
  readonly measured: number | null;
  readonly limit: number | null;
  readonly unit: string;
  readonly field?: string;
  readonly sentence: string;
  readonly state?: string;
}

export interface Decision {
  readonly id: string;
  readonly action: Action;
  readonly variables?: readonly VariableName[];
  readonly from_utc?: string;
  readonly to_utc?: string;
  readonly spans?: readonly Interval[];
  readonly field?: string;
  readonly value?: string;
  readonly reason: string;
  readonly who: string;
  readonly when_utc?: string;
  readonly revoked?: Revoked;
  readonly group?: string;
  readonly rule?: string;
}

export interface Step {
  readonly method: string;
  readonly kind: string;
  readonly variable: VariableName;
  readonly coefficients?: readonly Coefficient[];
  readonly note: string;
}

export interface CheckRun {
  readonly check: Check;
  readonly variable: VariableName;
  readonly ran: boolean;
  readonly why?: string;
}

export interface LevelSet {
  readonly levels: readonly Level[] | null;
  readonly cold_point?: Level;
  readonly tropopause_note: string;
  readonly profile: string;
  readonly profile_note?: string;
}

export interface Tally {
  readonly variable: VariableName;
  readonly rows: number;
  readonly good: number;
  readonly not_evaluated: number;
  readonly questionable: number;
  readonly bad: number;
  readonly missing: number;
}

export interface SheetName {
  readonly name: string;
  readonly title: string;
}

export interface Source {
  readonly name: string;
  readonly sha256: string;
  readonly bytes: number;
  readonly recipe: string;
  readonly rows: number;
  readonly unread: number;
  readonly first_utc: string;
  readonly last_utc: string;
  readonly header?: readonly Item[];
}

export interface Variable {
  readonly name: VariableName;
  readonly label: string;
  readonly unit: string;
  readonly profile: boolean;
}

export interface SignOff {
  readonly state: string;
  readonly signature?: Signature;
  readonly digest_now_sha256?: string;
  readonly differs?: readonly string[];
  readonly reopened?: Reopening;
}

export interface Ruling {
  readonly revision: number;
  readonly kind: RulingKind;
  readonly who: string;
  readonly reason: string;
  readonly when_utc?: string;
  readonly decision?: string;
  readonly about?: Decision;
  readonly signature?: Signature;
  readonly group?: string;
}

export interface Column {
  readonly name: string;
  readonly part: string;
  readonly type: string;
  readonly offset: number;
}

export type VariableName =
  | "none"
  | "pressure"
  | "temperature"
  | "humidity"
  | "humidity_a"
  | "humidity_b"
  | "dew_point"
  | "wind_speed"
  | "wind_direction"
  | "wind_u"
  | "wind_v"
  | "velocity_east"
  | "velocity_north"
  | "velocity_up"
  | "latitude"
  | "longitude"
  | "height_msl"
  | "height_ellipsoid"
  | "geopotential_height"
  | "ascent_rate"
  | "heating_a"
  | "heating_b"
  | "humidity_sensor_temperature_a"
  | "humidity_sensor_temperature_b"
  | "internal_temperature"
  | "satellites"
  | "signal"
  | "battery"
  | "frame"
  | "solar_elevation"
  | "virtual_temperature"
  | "mixing_ratio"
  | "potential_temperature";

export interface TrailEntry {
  readonly method: string;
  readonly kind: string;
  readonly change: number | null;
  readonly value: number | null;
  readonly u: number | null;
  readonly note: string;
  readonly coefficients?: readonly Coefficient[];
}

export interface Difference {
  readonly release_s: number | null;
  readonly verdict: readonly [string, string];
  readonly variables: readonly VariableDifference[] | null;
  readonly findings_gone: readonly Finding[] | null;
  readonly findings_new: readonly Finding[] | null;
  readonly levels: readonly [number, number];
  readonly levels_changed: number;
}

export interface IndexChange {
  readonly name: string;
  readonly label: string;
  readonly unit: string;
  readonly before: number | null;
  readonly after: number | null;
}

export interface Stale {
  readonly seen: number;
  readonly current: number;
  readonly since: readonly Ruling[] | null;
}

export interface Signature {
  readonly who: string;
  readonly when_utc: string;
  readonly note?: string;
  readonly revision: number;
  readonly method_set: string;
  readonly digest_sha256: string;
  readonly verdict: string;
  readonly open_findings: number;
}

export interface Seen {
  readonly flight: string;
  readonly revision: number;
}

export interface Added {
  readonly id: string;
  readonly flight: Row;
  readonly known?: string;
}

export interface DiagramLine {
  readonly of: number;
  readonly temperature_k: readonly (number | null)[] | null;
}

export interface IndexSet {
  readonly profile: string;
  readonly profile_note?: string;
  readonly samples: number;
  readonly members: number;
  readonly seed: number;
  readonly saturation: string;
  readonly humidity_sensor_formula: string;
  readonly constants: string;
  readonly indices: readonly Index[] | null;
  readonly parcels: readonly Parcel[] | null;
  readonly inversions: readonly Inversion[] | null;
  readonly ducts: readonly Duct[] | null;
  readonly notes: readonly string[] | null;
}

export interface ParcelPath {
  readonly name: string;
  readonly pressure_hpa: readonly (number | null)[] | null;
  readonly temperature_k: readonly (number | null)[] | null;
  readonly condensation_pressure_hpa: number | null;
  readonly condensation_temperature_k: number | null;
}

export interface FlightDecisions {
  readonly flight: number;
  readonly decisions: readonly Decision[] | null;
}

export interface Evidence {
  readonly residual: string;
  readonly before: number | null;
  readonly after: number | null;
  readonly usual: number | null;
  readonly unit: string;
}

export interface Trial {
  readonly verdict: readonly [string, string];
  readonly findings_gone: readonly string[] | null;
  readonly findings_new: readonly string[] | null;
}

export interface State {
  readonly name: string;
  readonly link: string;
  readonly link_sentence: string;
  readonly link_since_utc?: string;
  readonly now_utc: string;
  readonly speed: number;
  readonly others: readonly Receiving[] | null;
  readonly received_bytes: number;
  readonly unsaved_bytes: number;
  readonly last_received_utc?: string;
  readonly age_s: number | null;
  readonly revision: number;
  readonly unread: string;
  readonly rows: number;
  readonly last_row_utc?: string;
  readonly flight: string;
  readonly site: string;
  readonly phase: string;
  readonly release_utc?: string;
  readonly since_release_s: number | null;
  readonly summary: string;
  readonly height_m_msl: number | null;
  readonly pressure_hpa: number | null;
  readonly ascent_rate_m_s: number | null;
  readonly mean_ascent_rate_m_s: number | null;
  readonly target_ascent_rate_m_s: number | null;
  readonly values: readonly Value[] | null;
  readonly position: Place | null;
  readonly start: Place | null;
  readonly distance_m: number | null;
  readonly bearing_deg: number | null;
  readonly burst: Burst;
  readonly landing: Landing;
  readonly findings: readonly Finding[] | null;
  readonly alarms: readonly Alarm[] | null;
  readonly message: Message;
  readonly ended?: Ended;
  readonly journal: string;
  readonly cost: Cost;
}

export interface Sheet {
  readonly site: string;
  readonly place: Place;
  readonly height_m_msl: number;
  readonly operator?: string;
  readonly serial?: string;
  readonly time_zone: string;
  readonly slot: Slot;
  readonly extra_slots?: readonly Slot[];
  readonly sun: readonly Sunlight[] | null;
  readonly surface: readonly Remark[] | null;
  readonly fill: FillPlan | null;
  readonly fall: Fall;
  readonly drift: Prediction | null;
  readonly areas?: readonly Watch[];
  readonly radio_horizon_at_landing_m_msl: number;
  readonly ground_check: GroundCheckResult;
  readonly gas_store?: Store;
  readonly stock?: readonly StockItem[];
  readonly airspace: Airspace;
  readonly launch_list: readonly Done[] | null;
  readonly label: string;
  readonly remarks: readonly Remark[] | null;
  readonly word: string;
  readonly launch_record: LaunchRecord | null;
}

export interface Remark {
  readonly about: string;
  readonly level: string;
  readonly text: string;
}

export interface Chart {
  readonly centre: Place;
  readonly ascent_km: readonly (readonly [number, number])[] | null;
  readonly descent_km: readonly (readonly [number, number])[] | null;
  readonly ellipse_68_km: readonly (readonly [number, number])[] | null;
  readonly ellipse_95_km: readonly (readonly [number, number])[] | null;
  readonly burst_km: readonly [number, number];
  readonly landing_km: readonly [number, number];
  readonly areas: readonly ChartArea[] | null;
}

export interface ListStep {
  readonly id: string;
  readonly when: string;
  readonly only?: string;
  readonly text: string;
  readonly caution?: string;
}

export interface DeskFile {
  readonly name: string;
  readonly text: string;
}

export interface LastReceived {
  readonly known: boolean;
  readonly place: Place;
  readonly height_m_msl: number | null;
  readonly utc: string;
}

export interface Landing {
  readonly known: boolean;
  readonly happened: boolean;
  readonly utc?: string;
  readonly in_s: number | null;
  readonly place: Place;
  readonly distance_m: number | null;
  readonly bearing_deg: number | null;
  readonly major_95_m: number | null;
  readonly minor_95_m: number | null;
  readonly ellipse_95: readonly Place[] | null;
  readonly track: readonly Place[] | null;
  readonly sentence: string;
}

export interface Recovery {
  readonly serial: string;
  readonly flight: string;
  readonly state: string;
  readonly at_utc: string;
  readonly who: string;
  readonly place?: Place;
  readonly finder?: string;
  readonly note?: string;
  readonly expected?: Ellipse;
}

export interface Place {
  readonly latitude_deg: number;
  readonly longitude_deg: number;
}

export interface Proposal {
  readonly action: Action;
  readonly field?: string;
  readonly value?: string;
  readonly shifted?: boolean;
  readonly sheet?: SheetChoice;
  readonly settings?: SettingsChoice;
  readonly kind?: SpanKind;
  readonly reason: string;
  readonly who: string;
}

export interface Effect {
  readonly flight: string;
  readonly name: string;
  readonly revision: number;
  readonly effect: string;
  readonly why?: string;
  readonly item?: ItemChange;
  readonly sheet?: readonly [string, string];
  readonly settings?: readonly [string, string];
  readonly method_set: readonly [string, string];
  readonly signed?: string;
  readonly largest?: string;
  readonly spans: number;
  readonly samples: number;
  readonly verdict: readonly [string, string];
  readonly line: readonly [string, string];
  readonly release_s: number | null;
  readonly variables: readonly VariableDifference[] | null;
  readonly findings_gone: number;
  readonly findings_new: number;
  readonly levels: readonly [number, number];
  readonly levels_changed: number;
}

export interface RowEffect {
  readonly flight: string;
  readonly name: string;
  readonly revision: number;
  readonly effect: string;
  readonly why?: string;
  readonly method_set: readonly [string, string];
  readonly signed?: string;
  readonly verdict: readonly [string, string];
  readonly line: readonly [string, string];
  readonly open: readonly [number, number];
  readonly release_s: number | null;
  readonly top_m_msl: readonly [number | null, number | null];
  readonly temperature_k: number | null;
  readonly humidity_pct: number | null;
}

export interface Group {
  readonly id: string;
  readonly action: Action;
  readonly field?: string;
  readonly label?: string;
  readonly value?: string;
  readonly rule?: string;
  readonly kind?: SpanKind;
  readonly reason: string;
  readonly who: string;
  readonly when_utc: string;
  readonly parts: readonly GroupPart[] | null;
  readonly revoked: readonly GroupRevocation[] | null;
}

export interface GroupRefusal {
  readonly flight: string;
  readonly why: string;
}

export interface GroupItem {
  readonly path: string;
  readonly label: string;
  readonly unit: string;
  readonly shift: boolean;
}

export interface FlightVersion {
  readonly flight: string;
  readonly stage?: string;
  readonly without?: string;
  readonly as_of_revision?: number;
  readonly settings?: string;
  readonly settings_name?: string;
  readonly settings_text?: string;
}

export interface ComparedVersion {
  readonly version: FlightVersion;
  readonly name: string;
  readonly words: string;
  readonly revision: number;
  readonly method_set: string;
  readonly verdict: string;
  readonly line: string;
}

export interface ComparisonResult {
  readonly same_rows: boolean;
  readonly axis: string;
  readonly gap_s: number;
  readonly rule: string;
  readonly bounds_hpa: readonly number[] | null;
  readonly variables: readonly ComparedVariable[] | null;
  readonly only_a: readonly string[] | null;
  readonly only_b: readonly string[] | null;
  readonly notes: readonly string[] | null;
}

export interface Event {
  readonly found: boolean;
  readonly row: number;
  readonly line: number;
  readonly time_s: number | null;
  readonly utc: string;
  readonly u_s: number | null;
  readonly height_m_msl: number | null;
  readonly pressure_hpa: number | null;
  readonly method: string;
}

export interface PhaseSpan {
  readonly phase: Phase;
  readonly from_row: number;
  readonly to_row: number;
}

export type Check =
  | "syntax"
  | "time-order"
  | "gap"
  | "gross"
  | "spike"
  | "step"
  | "stuck"
  | "clamped"
  | "superadiabatic"
  | "barometer-height"
  | "baseline"
  | "ascent"
  | "wind-shear"
  | "wind-repeat"
  | "humidity-range"
  | "ice-saturation"
  | "stratospheric-humidity"
  | "twin-humidity"
  | "release-time"
  | "burst"
  | "launch-record"
  | "sources"
  | "pendulum"
  | "evaporation"
  | "icing"
  | "wake"
  | "lag"
  | "radiation"
  | "ground-check"
  | "position"
  | "decision"
  | "derived"
  | "hydrostatic"
  | "telemetry";

export type Severity =
  | "note"
  | "questionable"
  | "bad";

export interface Span {
  readonly from_row: number;
  readonly to_row: number;
}

export type Action =
  | "exclude"
  | "restore"
  | "flag"
  | "set-release"
  | "set-burst"
  | "choose-sensor"
  | "correct-record"
  | "choose-sheet"
  | "choose-settings"
  | "accept"
  | "dismiss"
  | "note";

export interface Interval {
  readonly from_utc: string;
  readonly to_utc: string;
}

export interface Revoked {
  readonly reason: string;
  readonly who: string;
  readonly when_utc: string;
  readonly group?: string;
}

export interface Coefficient {
  readonly name: string;
  readonly value: number | null;
  readonly unit: string;
  readonly source: string;
}

export interface Level {
  readonly profile: string;
  readonly kinds: readonly string[] | null;
  readonly row: number;
  readonly line: number;
  readonly time_s: number | null;
  readonly pressure_hpa: number | null;
  readonly geopotential_height_gpm: number | null;
  readonly height_m_msl: number | null;
  readonly temperature_k: number | null;
  readonly dew_point_k: number | null;
  readonly humidity_pct: number | null;
  readonly wind_direction_deg: number | null;
  readonly wind_speed_m_s: number | null;
  readonly wind_u_m_s: number | null;
  readonly wind_v_m_s: number | null;
  readonly latitude_deg: number | null;
  readonly longitude_deg: number | null;
  readonly temperature_u_k: number | null;
  readonly humidity_u_pct: number | null;
  readonly wind_u_total_m_s: number | null;
  readonly geopotential_height_u_gpm: number | null;
  readonly flag: number;
  readonly shear_below_m_s: number | null;
  readonly shear_above_m_s: number | null;
}

export interface Item {
  readonly name: string;
  readonly text: string;
  readonly line: number;
}

export interface Reopening {
  readonly reason: string;
  readonly who: string;
  readonly when_utc: string;
}

export type RulingKind =
  | "decision"
  | "revocation"
  | "undo"
  | "redo"
  | "signature"
  | "reopening";

export interface VariableDifference {
  readonly variable: VariableName;
  readonly unit: string;
  readonly flags_changed: number;
  readonly usable: readonly [number, number];
  readonly values_changed: number;
  readonly largest_change: number | null;
  readonly largest_row: number;
}

export interface Index {
  readonly name: string;
  readonly label: string;
  readonly value: number | null;
  readonly unit: string;
  readonly u: number | null;
  readonly u_common: number | null;
  readonly low_95: number | null;
  readonly high_95: number | null;
  readonly share_defined: number | null;
  readonly convention: string;
  readonly profile: string;
  readonly refusal?: string;
  readonly note?: string;
}

export interface Parcel {
  readonly name: string;
  readonly pressure_hpa: number | null;
  readonly temperature_k: number | null;
  readonly vapour_pressure_hpa: number | null;
}

export interface Inversion {
  readonly base_pressure_hpa: number | null;
  readonly top_pressure_hpa: number | null;
  readonly base_height_m: number | null;
  readonly top_height_m: number | null;
  readonly base_u_m: number | null;
  readonly top_u_m: number | null;
  readonly base_height_m_msl: number | null;
  readonly top_height_m_msl: number | null;
  readonly strength_k: number | null;
  readonly strength_u_k: number | null;
  readonly from_surface: boolean;
  readonly humidity_change_pct: number | null;
}

export interface Duct {
  readonly base_height_m: number | null;
  readonly trapping_base_height_m: number | null;
  readonly top_height_m: number | null;
  readonly top_u_m: number | null;
  readonly strength_m_units: number | null;
  readonly strength_u_m_units: number | null;
  readonly gradient_n_units_km: number | null;
  readonly from_surface: boolean;
  readonly note?: string;
}

export interface Receiving {
  readonly name: string;
  readonly link: string;
  readonly link_sentence: string;
  readonly received_bytes: number;
  readonly age_s: number | null;
  readonly apart: string;
}

export interface Value {
  readonly variable: VariableName;
  readonly label: string;
  readonly unit: string;
  readonly value: number | null;
  readonly flag: number;
  readonly late_s: number | null;
}

export interface Burst {
  readonly known: boolean;
  readonly happened: boolean;
  readonly utc?: string;
  readonly in_s: number | null;
  readonly u_s: number | null;
  readonly height_m_msl: number | null;
  readonly u_m: number | null;
  readonly sentence: string;
}

export interface Alarm {
  readonly kind: string;
  readonly since_utc: string;
  readonly over_utc?: string;
  readonly sentence: string;
  readonly ended?: string;
}

export interface Message {
  readonly wanted: boolean;
  readonly upto_hpa: number | null;
  readonly written_utc?: string;
  readonly where?: string;
  readonly sentence: string;
}

export interface Ended {
  readonly utc: string;
  readonly why: string;
  readonly flights: readonly Stored[] | null;
  readonly error?: string;
}

export interface Cost {
  readonly computation_ms: number;
  readonly processor_pct: number;
  readonly computations: number;
}

export interface Slot {
  readonly nominal_utc: string;
  readonly extra: boolean;
  readonly earliest_utc: string;
  readonly best_utc: string;
  readonly latest_utc: string;
  readonly local_nominal: string;
  readonly local_best: string;
  readonly sun_elevation_deg: number;
  readonly remarks?: readonly Remark[];
}

export interface Sunlight {
  readonly where: string;
  readonly utc: string;
  readonly height_m_msl: number;
  readonly sun_elevation_deg: number;
  readonly sun_visible: boolean;
}

export interface FillPlan {
  readonly gas: string;
  readonly purity_pct: number;
  readonly balloon_kg: number;
  readonly payload_kg: number;
  readonly weather: Allowance;
  readonly nozzle_lift_kg: PlannedValue;
  readonly free_lift_kg: PlannedValue;
  readonly gross_lift_kg: PlannedValue;
  readonly volume_m3: PlannedValue;
  readonly gas_mass_kg: PlannedValue;
  readonly amount_mol: PlannedValue;
  readonly diameter_m: PlannedValue;
  readonly release_rate_m_s: PlannedValue;
  readonly mean_rate_m_s: PlannedValue;
  readonly burst_diameter_m: PlannedValue;
  readonly burst_height_m_msl: PlannedValue;
  readonly burst_pressure_hpa: PlannedValue;
  readonly burst_time_s: PlannedValue;
  readonly release_reynolds: number;
  readonly rates: readonly RateAt[] | null;
  readonly drag_from: string;
  readonly remarks?: readonly Remark[];
}

export interface Fall {
  readonly Rate: number;
  readonly Relative: number;
  readonly Words: string;
}

export interface Prediction {
  readonly track: readonly Point[] | null;
  readonly burst: Point;
  readonly landing: Point;
  readonly burst_time_s: PlannedValue;
  readonly burst_height_m_msl: PlannedValue;
  readonly landing_time_s: PlannedValue;
  readonly landing_distance_m: number;
  readonly landing_bearing_deg: number;
  readonly farthest_m: number;
  readonly ellipse: Ellipse;
  readonly wind: string;
  readonly remarks?: readonly Remark[];
}

export interface Watch {
  readonly name: string;
  readonly kind: string;
  readonly landing_share_pct: number;
  readonly distance_m: number;
  readonly lost_below_m_msl: number;
  readonly words: string;
}

export interface GroundCheckResult {
  readonly word: string;
  readonly reason: string;
  readonly lines: readonly CheckLine[] | null;
  readonly drift?: readonly string[];
  readonly ruling: string;
  readonly ruled_by: string;
  readonly ruling_reason: string;
  readonly in_force: string;
  readonly remarks?: readonly Remark[];
}

export interface Store {
  readonly gas: string;
  readonly cylinders: number;
  readonly usable_mol: number;
  readonly fills_left: number;
  readonly fills_needed: number;
  readonly usable_m3: number;
  readonly fills_u: number;
}

export interface StockItem {
  readonly name: string;
  readonly had: number;
  readonly used: number;
  readonly per_release: number;
  readonly counted_utc?: string;
  readonly flown: number;
}

export interface Airspace {
  readonly payload_kg: number;
  readonly icao_class: string;
  readonly because: string;
  readonly us_part_101_subpart_d: boolean;
  readonly us_because: string;
  readonly information: readonly string[] | null;
  readonly defer: string;
  readonly remarks?: readonly Remark[];
}

export interface Done {
  readonly id: string;
  readonly when: string;
  readonly only?: string;
  readonly text: string;
  readonly caution?: string;
  readonly tick?: Tick;
}

export interface LaunchRecord {
  readonly site: Site;
  readonly release: ReleasePlan;
  readonly surface: Surface;
  readonly ground_check: GroundCheck;
  readonly radiosonde: Radiosonde;
  readonly balloon: Balloon;
  readonly operator: string;
  readonly notes: string;
  readonly tick?: readonly Tick[];
}

export interface ChartArea {
  readonly name: string;
  readonly closed: boolean;
  readonly rings_km: readonly (readonly (readonly [number, number])[] | null)[] | null;
}

export interface Ellipse {
  readonly centre: Place;
  readonly major_axis_bearing_deg: number;
  readonly major_68_m: number;
  readonly minor_68_m: number;
  readonly major_95_m: number;
  readonly minor_95_m: number;
}

export interface SheetChoice {
  readonly name: string;
  readonly text?: string;
}

export interface SettingsChoice {
  readonly name: string;
  readonly text?: string;
}

export interface SpanKind {
  readonly check?: string;
  readonly about: VariableName;
  readonly severity: Severity;
  readonly where?: readonly Range[];
  readonly variables?: readonly VariableName[];
}

export interface ItemChange {
  readonly path: string;
  readonly label: string;
  readonly unit: string;
  readonly before: string;
  readonly after: string;
}

export interface GroupPart {
  readonly flight: string;
  readonly decision: string;
  readonly in_force: boolean;
}

export interface GroupRevocation {
  readonly reason: string;
  readonly who: string;
  readonly when_utc: string;
  readonly group?: string;
  readonly flights: number;
}

export interface ComparedVariable {
  readonly variable: VariableName;
  readonly label: string;
  readonly unit: string;
  readonly whole: Statistics;
  readonly layers: readonly Statistics[] | null;
}

export type Phase =
  | "before release"
  | "ascent"
  | "float"
  | "descent"
  | "landed";

export interface Stored {
  readonly id: string;
  readonly name: string;
  readonly known?: string;
  readonly line: string;
}

export interface Allowance {
  readonly Word: string;
  readonly Lift: number;
  readonly Note: string;
}

export interface PlannedValue {
  readonly value: number | null;
  readonly u: number | null;
}

export interface RateAt {
  readonly height_m_msl: number;
  readonly pressure_hpa: number;
  readonly time_s: number;
  readonly rate_m_s: number;
  readonly rate_u_m_s: number;
  readonly diameter_m: number;
}

export interface Point {
  readonly time_s: number;
  readonly latitude_deg: number;
  readonly longitude_deg: number;
  readonly height_m_msl: number;
  readonly vertical_rate_m_s: number;
  readonly phase: string;
}

export interface CheckLine {
  readonly quantity: string;
  readonly reference: number | null;
  readonly radiosonde: number | null;
  readonly difference: number | null;
  readonly limit: number;
  readonly unit: string;
  readonly word: string;
  readonly text: string;
}

export interface Site {
  readonly name: string;
  readonly kind: string;
  readonly wmo_number: string;
  readonly wigos: string;
  readonly call_sign: string;
  readonly latitude_deg: number | null;
  readonly longitude_deg: number | null;
  readonly height_m_msl: number | null;
  readonly barometer_height_m_msl: number | null;
  readonly antenna_height_m_msl: number | null;
  readonly thermometer_height_m_msl: number | null;
  readonly geoid_undulation_m: number | null;
}

export interface ReleasePlan {
  readonly nominal_utc?: string;
  readonly declared_utc?: string;
}

export interface Surface {
  readonly time_utc?: string;
  readonly pressure_hpa: number | null;
  readonly temperature_k: number | null;
  readonly humidity_pct: number | null;
  readonly dew_point_k: number | null;
  readonly wind_speed_m_s: number | null;
  readonly wind_direction_deg: number | null;
  readonly sea_temperature_k: number | null;
  readonly cloud_code: string;
  readonly weather_note: string;
}

export interface GroundCheck {
  readonly time_utc?: string;
  readonly reference_pressure_hpa: number | null;
  readonly reference_temperature_k: number | null;
  readonly reference_humidity_pct: number | null;
  readonly pressure_hpa: number | null;
  readonly temperature_k: number | null;
  readonly humidity_pct: number | null;
  readonly humidity_a_pct: number | null;
  readonly humidity_b_pct: number | null;
  readonly applied: string;
  readonly result?: string;
  readonly ruling?: string;
  readonly ruled_by?: string;
  readonly ruling_reason?: string;
}

export interface Radiosonde {
  readonly sheet: string;
  readonly serial: string;
  readonly frequency_mhz: number | null;
  readonly mass_kg: number | null;
}

export interface Balloon {
  readonly mass_kg: number | null;
  readonly gas: string;
  readonly gas_amount_kg: number | null;
  readonly nozzle_lift_kg: number | null;
  readonly string_m: number | null;
  readonly parachute: string;
  readonly payload_kg: number | null;
  readonly target_ascent_rate_m_s: number | null;
}

export interface Range {
  readonly of: string;
  readonly from: number | null;
  readonly to: number | null;
}

export interface Statistics {
  readonly bottom_hpa: number | null;
  readonly top_hpa: number | null;
  readonly n: number;
  readonly n_a: number;
  readonly n_b: number;
  readonly mean: number | null;
  readonly deviation: number | null;
  readonly rms: number | null;
  readonly largest: number | null;
  readonly largest_hpa: number | null;
  readonly largest_s: number | null;
  readonly largest_row: number;
}
