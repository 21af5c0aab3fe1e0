// Made from the station's records by: python -m groundstation.web.page_types
// Don't change it here; a test says when it is not as the records are.

export type Region =
  | { type: "Polygon"; coordinates: number[][][] }
  | { type: "MultiPolygon"; coordinates: number[][][][] };

/** Where the station's antenna stands. */
export interface BaseSnapshot {
  /** Of the base. */
  lat: number;
  /** Of the base. */
  lon: number;
  /** Above mean sea level. */
  altitude_m: number;
}

/** The highest point, and when the fall began. */
export interface BurstSnapshot {
  /** When the fall began. */
  time: string;
  /** The highest, above mean sea level. */
  altitude_m: number;
}

/** The chance of each phase, 0 to 1. */
export interface ChanceTold {
  /** That it climbs, or has not been launched yet. */
  ascent: number;
  /** That it floats. */
  float: number;
  /** That it falls. */
  descent: number;
  /** That it is down. */
  landed: number;
}

/** What came in since the station started. */
export interface Counts {
  /** Pieces of input. */
  frames: number;
  /** Positions that were believed. */
  fixes: number;
  /** What was not used, by reason. */
  rejected: Record<string, number>;
}

/** What became of a payload in the end. */
export interface FoundSnapshot {
  /** Which one. */
  payload: string;
  /** When it was found, or given up. */
  time: string;
  /** Where it lay; the best guess if it was given up. */
  lat: number;
  /** Where it lay; the best guess if it was given up. */
  lon: number;
  /** How it was found; lost where the search was given up. */
  condition: "whole" | "damaged" | "parts" | "lost";
  /** Who noted it. */
  who: string;
  /** What they wrote. */
  note: string;
}

/** Squares over the place, from south to north, each row from west to east. */
export interface GridTold {
  /** Southern edge. */
  south: number;
  /** Northern edge. */
  north: number;
  /** Western edge. */
  west: number;
  /** Eastern edge. */
  east: number;
  /** How many from south to north. */
  rows: number;
  /** How many from west to east. */
  columns: number;
  /** Side of a square. */
  size_m: number;
  /** Of each square, in thousandths of that of the likeliest. */
  chance: Array<number>;
  /** How many percent of the chance are in squares as likely or likelier. */
  shares: Array<number>;
}

/** Something on the map to keep off. */
export interface HazardTold {
  /** What it is. */
  kind: string;
  /** Its name, if it has one. */
  name: string;
  /** Whether its parts are outlines of areas. */
  area: boolean;
  /** Points, lines or outlines. */
  parts: Array<Array<[number, number]>>;
}

/** A few numbers for a monitor: is it alive, does anything come in, does anything wait. */
export interface HealthSnapshot {
  /** The station's time. */
  now: string;
  /** When the station was started. */
  started: string;
  /** Whether this is a recording, played. */
  rehearsal: boolean;
  /** How many things need somebody. */
  problems: number;
  /** How each source is. */
  sources: Record<string, "starting" | "running" | "quiet" | "waiting" | "ended">;
  /** Pieces of input since the start. */
  frames: number;
  /** Positions that were believed. */
  fixes: number;
  /** Since a payload was last heard; null if never. */
  heard_age_s: number | null;
  /** Alerts that no target has taken yet. */
  outbox_waiting: number;
}

/** A height that was heard after the newest fix, and without a place. */
export interface HeightAlone {
  /** By the tracker's clock where it sends one. */
  time: string;
  /** When it was heard. */
  received: string;
  /** Above mean sea level. */
  altitude_m: number;
  /** Above the ground where it lands or was let go. */
  agl_m: number | null;
  /** Whether a pressure told it, by the standard atmosphere. */
  by_pressure: boolean;
  /** Which tracker sent it. */
  tracker: string;
}

/** Where it would land if it were let go from the site of its plan. */
export interface IfLaunchedSnapshot {
  /** At this time: that of the plan, or the next if it is late. */
  launch: string;
  /** By the plan and the forecast alone. */
  landing: LandingSnapshot;
}

/** What happened, what to do now and where to, how sure that is, and what it rests on. */
export interface InstructionSnapshot {
  /** Where the flight stands; what is to be done agrees with it. */
  standing: "waiting" | "rising" | "floating" | "falling" | "due" | "down" | "found" | "given-up";
  /** The same in a word or two, with whether it is silent. */
  badge: string;
  /** Whether it is aloft, to be heard, and not heard. */
  silent: boolean;
  /** What is to be done, as a word for programs. */
  act: "listen" | "get-ready" | "follow" | "wait" | "check" | "head" | "go-on" | "stop" | "search" | "fetch" | "nothing";
  /** What happened last, in a sentence. */
  happened: string;
  /** What is to be done, in a sentence; {where} stands for the place. */
  todo: string;
  /** The place in words, from a vehicle, a name, base or the launch. */
  where: string;
  /** Of the place; null where it sends nowhere. */
  lat: number | null;
  /** Of the place; null where it sends nowhere. */
  lon: number | null;
  /** Whether the place was heard from the ground, not estimated. */
  measured: boolean;
  /** Half of the chance is this near to the place. */
  radius_50_m: number | null;
  /** Since when it holds; null before anything is heard. */
  since: string | null;
  /** Of the newest fix it rests on; null before the first. */
  fix: string | null;
  /** What it rests on beside that fix, in words; may be empty. */
  rests_on: string;
  /** What to mind while doing it; may be empty. */
  caution: string;
}

/** The landing estimate, and where its point lies from the base. */
export interface LandingSnapshot {
  /** Always landing. */
  kind: string;
  /** When the estimate was made. */
  time: string;
  /** Whose landing it is. */
  payload: string;
  /** The phase in which it was made. */
  phase: "prelaunch" | "ascent" | "float" | "descent" | "landed";
  /** Of the point, the median. */
  lat: number;
  /** Of the point, the median. */
  lon: number;
  /** Height of the ground there, above mean sea level. */
  ground_m: number;
  /** When it is expected to touch down. */
  eta: string;
  /** Between these with a chance of 90 %. */
  eta_90: [string, string];
  /** How fast it falls at the ground, expected. */
  descent_rate_ms: number;
  /** Where it lands with a chance of 50 %. */
  region_50: Region;
  /** Where it lands with a chance of 90 %. */
  region_90: Region;
  /** What the estimate rests on, in words. */
  basis: string;
  /** Of the last fix that is in it. */
  evidence: string;
  /** Half of the chance is within this distance of the point. */
  radius_50_m: number;
  /** Nine tenths of the chance are within this distance. */
  radius_90_m: number;
  /** Between these with a chance of 90 %, where that is known. */
  descent_rate_90_ms: [number, number] | null;
  /** How likely each phase is, when it was made. */
  chance: ChanceTold | null;
  /** Its height above mean sea level then, the median. */
  height_m: number | null;
  /** Its height, between these with a chance of 90 %. */
  height_90_m: [number, number] | null;
  /** Between these it burst or will, with a chance of 90 %, where no height tells it. */
  burst_90: [string, string] | null;
  /** Areas to keep out of, with the share of the chance in each. */
  inside?: Record<string, number>;
  /** From the base; null without a base. */
  distance_m: number | null;
  /** From the base; null without a base. */
  bearing_deg: number | null;
  /** The town or village near it; null where none is known. */
  town: TownTold | null;
}

/** The newest fix, and where it lies from the base. */
export interface LastFix {
  /** By the tracker's own clock, else that of reception. */
  time: string;
  /** When it was heard. */
  received: string;
  /** As it was sent. */
  lat: number;
  /** As it was sent. */
  lon: number;
  /** Above mean sea level; null where none was sent. */
  altitude_m: number | null;
  /** Above the ground where it lands; null without a height. */
  agl_m: number | null;
  /** Half of what its notation can tell apart. */
  uncertainty_m: number;
  /** Which way it moves over the ground, from north. */
  course_deg: number | null;
  /** How fast it moves over the ground, as sent or measured. */
  speed_ms: number | null;
  /** How many its receiver used. */
  satellites: number | null;
  /** The tracker that sent it. */
  tracker: string;
  /** The source that heard it. */
  source: string;
  /** What else it sent; the unit is in the name. */
  telemetry: Record<string, number | null>;
  /** From the base; null without a base. */
  distance_m: number | null;
  /** From the base; null without a base. */
  bearing_deg: number | null;
}

/** Where and when it was let go. */
export interface LaunchSnapshot {
  /** When it left the ground. */
  time: string;
  /** Of the place. */
  lat: number;
  /** Of the place. */
  lon: number;
  /** Of the place, above mean sea level. */
  altitude_m: number | null;
}

/** Something that was done in the search. */
export interface LookTold {
  /** To take it back. */
  number: number;
  /** When it was noted. */
  time: string;
  /** Searched and saw nothing, or listened and heard nothing, or it. */
  kind: "searched" | "silent" | "heard";
  /** A place, a way, or corners. */
  shape: Array<[number, number]>;
  /** Whether the shape is the outline of an area. */
  area: boolean;
  /** How far one sees, or where hearing is half as good. */
  reach_m: number;
  /** That it would have been found, had it been right there. */
  chance: number;
  /** Who noted it. */
  who: string;
  /** What they wrote. */
  note: string;
}

/** Something that can be drawn under the flight. */
export interface MapTold {
  /** As the person sees it. */
  name: string;
  /** Vector, raster or relief. */
  kind: string;
  /** Of its file or of its tiles. */
  address: string;
  /** What must be shown with it. */
  attribution: string;
  /** Whether this browser may ask; an online one after a yes. */
  agreed: boolean;
  /** The least and the most zoom that it has. */
  zooms?: Array<number>;
}

/** An alert as it was worded. */
export interface MessageSnapshot {
  /** When it was raised. */
  time: string;
  /** What it is about. */
  kind: "launched" | "burst" | "floating" | "falling-fast" | "falling-slowly" | "landing-moved" | "off-plan" | "keep-out" | "climbing-fast" | "climbing-slowly" | "still-climbing" | "altitude-frozen" | "trackers-disagree" | "silent" | "heard-again" | "touchdown-soon" | "should-be-down" | "landed" | "moved-after-landing" | "called-off" | "station";
  /** What happened, in a few words. */
  title: string;
  /** All of its words. */
  body: string;
  /** Which alert it is; to mark it as seen. */
  key: string;
  /** Whether somebody has marked it as seen. */
  seen: boolean;
}

/** A hazard near a place. */
export interface NearTold {
  /** What it is. */
  kind: string;
  /** Its name, if it has one. */
  name: string;
  /** From the place to its nearest point; 0 inside it. */
  distance_m: number;
  /** Which way, from north. */
  bearing_deg: number;
}

/** Where to look next. */
export interface NextTold {
  /** Of the place. */
  lat: number;
  /** Of the place. */
  lon: number;
  /** Degrees and minutes. */
  degrees_minutes: string;
  /** UTM on WGS 84; null near the poles. */
  utm: string | null;
  /** MGRS; null near the poles. */
  mgrs: string | null;
  /** Opens it in the phone's map. */
  geo: string;
  /** That it lies near there. */
  chance: number;
  /** How near. */
  within_m: number;
}

/** One payload and its flight. */
export interface PayloadSnapshot {
  /** Its name. */
  payload: string;
  /** What is to be done about it now. */
  instruction: InstructionSnapshot;
  /** Where it is in its flight. */
  phase: "prelaunch" | "ascent" | "float" | "descent" | "landed";
  /** Since when the phase holds; null before the first fix. */
  since: string | null;
  /** When it was last heard before a silence that was told; null while heard. */
  silent_since: string | null;
  /** Vertical speed over about the last minute, up positive. */
  rate_ms: number | null;
  /** Its newest fix; null before the first. */
  last: LastFix | null;
  /** Its height, heard since then without a place; null where there is none. */
  height: HeightAlone | null;
  /** Where it lands; null before the launch. */
  landing: LandingSnapshot | null;
  /** Where it was let go; null before. */
  launch: LaunchSnapshot | null;
  /** The highest point; null before the fall. */
  burst: BurstSnapshot | null;
  /** The planned height of the burst. */
  expected_burst_m: number | null;
  /** Where it was to land; null without a plan. */
  planned: PlannedSnapshot | null;
  /** When base loses sight of it; null if never. */
  signal_lost: SignalLoss | null;
  /** What became of it; null while it is looked for. */
  found: FoundSnapshot | null;
  /** Its transmitters. */
  trackers: Array<TrackerSnapshot>;
  /** Before the launch: where it would land; null once it flies. */
  if_launched: IfLaunchedSnapshot | null;
  /** What people saw of this flight. */
  sightings: Array<SightingTold>;
}

/** A place, as it is spoken and typed. */
export interface PlaceTold {
  /** Of the place. */
  lat: number;
  /** Of the place. */
  lon: number;
  /** Degrees and minutes. */
  degrees_minutes: string;
  /** UTM on WGS 84; null near the poles. */
  utm: string | null;
  /** MGRS; null near the poles. */
  mgrs: string | null;
  /** Opens it in the phone's map. */
  geo: string;
}

/** Where it was to land, and how far from there it lands now. */
export interface PlannedSnapshot {
  /** Of the planned landing. */
  lat: number;
  /** Of the planned landing. */
  lon: number;
  /** Nine tenths of the chance were within this distance. */
  radius_90_m: number;
  /** From there to where it lands now. */
  distance_m: number | null;
  /** From there to where it lands now. */
  bearing_deg: number | null;
}

/** What one receiver brought to a source. */
export interface ReceiverSnapshot {
  /** A device, an address or a topic. */
  name: string;
  /** How many it brought. */
  frames: number;
  /** When the last one came. */
  last: string;
}

/** Where a road is nearest to a place. */
export interface RoadTold {
  /** On the road. */
  lat: number;
  /** On the road. */
  lon: number;
  /** Its name or number, if the map has one. */
  name: string;
  /** From there to the place, straight. */
  walk_m: number;
  /** From there to the place. */
  bearing_deg: number;
}

/** How the search for a payload stands. */
export interface SearchTold {
  /** Which one. */
  payload: string;
  /** How likely it lies where; null before an estimate. */
  grid: GridTold | null;
  /** What was done. */
  looks: Array<LookTold>;
  /** Where to look next, the best first. */
  next: Array<NextTold>;
  /** What became of it; null while it is looked for. */
  found: FoundSnapshot | null;
  /** Where it was found, else the first of next. */
  place: PlaceTold | null;
  /** Hazards near that place, the nearest first. */
  near: Array<NearTold>;
  /** Whom a finder is asked to call. */
  contact: string;
  /** For whoever lives there, by language, with {station}, {place} and {when} to be filled in. */
  notices: Record<string, string>;
  /** The usual figures of each kind of look. */
  usual: Record<string, UsualTold>;
}

/** Something that a person saw or heard of a flight. Errors are one standard deviation. */
export interface SightingTold {
  /** To take it back. */
  number: number;
  /** What it was. */
  kind: "launched" | "burst" | "seen" | "not-seen" | "came-down" | "radio" | "nothing-here" | "no-flight";
  /** The moment that it tells of. */
  at: string;
  /** When it was told. */
  told: string;
  /** Who told it. */
  who: string;
  /** What they wrote. */
  note: string;
  /** It in words, without its moment and place. */
  words: string;
  /** Where the person stood. */
  lat: number | null;
  /** Where the person stood. */
  lon: number | null;
  /** Which way, from true north. */
  bearing_deg: number | null;
  /** How far that may be off, in degrees. */
  bearing_sd_deg: number | null;
  /** How high above the horizon, in degrees. */
  elevation_deg: number | null;
  /** How far around the direction was looked. */
  within_deg: number | null;
  /** How near it came down. */
  within_m: number | null;
  /** How far around the place was looked. */
  reach_m: number | null;
}

/** When the base will lose sight of it as it falls. */
export interface SignalLoss {
  /** When it goes below the horizon of the base. */
  time: string;
  /** Its height above the landing point then. */
  agl_m: number | null;
}

/** One source of frames. */
export interface SourceSnapshot {
  /** As the configuration has it. */
  name: string;
  /** What it is, in words. */
  kind: string;
  /** How it is; quiet is connected, but silent for long. */
  state: "starting" | "running" | "quiet" | "waiting" | "ended";
  /** Since when it is so. */
  since: string;
  /** How many came since the station started. */
  frames: number;
  /** When the last one came; null before the first. */
  last_frame: string | null;
  /** How often it failed since it last worked. */
  failures: number;
  /** Why it failed last, in words; empty where it never did. */
  last_error: string;
  /** Real seconds until it is tried again; null if not. */
  next_try_s: number | null;
  /** What brought its frames. */
  receivers: Array<ReceiverSnapshot>;
}

/** One moment of the whole station. Times are the station's own, also in a rehearsal. */
export interface StationSnapshot {
  /** The station's time. */
  now: string;
  /** When the station was started. */
  started: string;
  /** Its name. */
  station: string;
  /** Whether this is a recording, played. */
  rehearsal: boolean;
  /** Seconds of the station in a real one. */
  speed: number | null;
  /** In which times are read, as the IANA names it. */
  timezone: string;
  /** In which lengths and speeds are read. */
  units: "metric" | "feet-miles";
  /** Where its antenna stands, if that is set. */
  base: BaseSnapshot | null;
  /** What needs somebody, in sentences, worst first. */
  problems: Array<string>;
  /** In the order of the configuration. */
  payloads: Array<PayloadSnapshot>;
  /** Who drives there. */
  vehicles: Array<VehicleSnapshot>;
  /** Where frames come from. */
  sources: Array<SourceSnapshot>;
  /** Where alerts go. */
  targets: Array<TargetSnapshot>;
  /** What came in. */
  counts: Counts;
  /** The alerts, newest first. */
  messages: Array<MessageSnapshot>;
}

/** One target of alerts, and how its outbox stands. */
export interface TargetSnapshot {
  /** As the configuration has it. */
  name: string;
  /** What it is. */
  kind: string;
  /** Alerts that it has not taken yet. */
  waiting: number;
  /** Alerts that it took. */
  delivered: number;
  /** Alerts that were of no use any more before it took them. */
  expired: number;
  /** Delivered ones that may have arrived twice. */
  uncertain: number;
  /** Alerts given up because the target is no longer configured. */
  failures: number;
  /** When it last took one; null if it never did. */
  last_delivered: string | null;
  /** When the oldest alert that waits was written; null where none waits. */
  oldest_waiting: string | null;
  /** Why it last took none, in words; empty if that never was. */
  last_error: string;
  /** Real seconds until it is tried again; null where none waits. */
  next_try_s: number | null;
}

/** A town or village on the map. */
export interface TownShown {
  /** As it is written there. */
  name: string;
  /** Of its middle. */
  lat: number;
  /** Of its middle. */
  lon: number;
  /** How many live there, to 4 %; 0 where that is not known. */
  people: number;
}

/** The town or village that says best where something is. */
export interface TownTold {
  /** As it is written there. */
  name: string;
  /** From its middle to the place. */
  distance_m: number;
  /** From its middle to the place, from north. */
  bearing_deg: number;
}

/** One transmitter. */
export interface TrackerSnapshot {
  /** As the configuration has it. */
  id: string;
  /** When it was last heard; null where it never was. */
  received: string | null;
}

/** What is taken for a kind of look unless the person says else. */
export interface UsualTold {
  /** How far one sees or hears. */
  reach_m: number;
  /** That it would have been found, had it been right there. */
  chance: number;
}

/** A chase vehicle, or a phone of the crew that says where it is. */
export interface VehicleSnapshot {
  /** Its name. */
  vehicle: string;
  /** When it was there. */
  time: string;
  /** Where it was. */
  lat: number;
  /** Where it was. */
  lon: number;
  /** How fast it went; null where it does not say. */
  speed_ms: number | null;
  /** Which way it went; null where it does not say. */
  course_deg: number | null;
  /** The way to each payload's landing. */
  to_landing: Array<WaySnapshot>;
}

/** From a vehicle to a landing. */
export interface WaySnapshot {
  /** Whose landing. */
  payload: string;
  /** From the vehicle to the point. */
  distance_m: number;
  /** From the vehicle to the point. */
  bearing_deg: number;
  /** How long it takes in a straight line at the vehicle's speed; null while it stands. */
  straight_in_s: number | null;
}
