/**
 * A map without tiles: areas, spots with the circle within which they lie, and one's own position, all drawn as shapes.
 *
 * The page hands everything in and is told which spot was pressed. Meant to be imported when a map is wanted, so that
 * the library behind it is a file of its own. What it draws is also to be had as a list beside it: the map itself is
 * for the eye and the pointer, and takes arrow keys and plus and minus once it has the focus.
 */
import * as L from "leaflet";
import "leaflet/dist/leaflet.css";
import "./map.css";
import type { Ground, Look, Own, Spot } from "./shapes";

export interface Drawing {
  /** Put other areas in the place of those there are. */
  setGround(ground: readonly Ground[]): void;
  /** Put other spots in the place of those there are. */
  setSpots(spots: readonly Spot[]): void;
  /** Show some spots as chosen and the rest as they are; with `move` the map goes to where they are. */
  choose(ids: ReadonlySet<string>, move?: boolean): void;
  setOwn(own: Own | null): void;
  /** Bring one's own position into the middle, as near as its radius can be seen; nothing where it is not known. */
  showOwn(): void;
  /** Show everything. */
  showAll(): void;
  /** Say that the place of the map has another size. */
  resized(): void;
  remove(): void;
}

export interface Wanted {
  readonly ground: readonly Ground[];
  readonly spots: readonly Spot[];
  readonly own?: Own | null;
  /** What the map is, for whoever cannot see it. */
  readonly label: string;
  readonly onSpot?: (id: string) => void;
}

const EDGE = 0.08; // of the map's side, kept free around what is shown
const CLOSEST = 19;
const CLOSE_ENOUGH = 17;
/** How many metres are shown around one's own position at least. */
const NEAR = 600;
/** From which zoom on the names of areas stand on the map. */
const NAMES_FROM = 13;
const NAMES = "area-names";
const DEPTH: Readonly<Record<Look, number>> = { water: 0, land: 1, permitted: 2, conditional: 3, closed: 4, feature: 5 };

/** Draw a map into an element, which has a height of its own. */
export function draw(container: HTMLElement, wanted: Wanted): Drawing {
  const map = L.map(container, {
    attributionControl: false,
    zoomSnap: 0.25,
    maxZoom: CLOSEST,
    zoomAnimation: !reducedMotion(),
    fadeAnimation: false,
    renderer: L.svg({ padding: 0.5 }),
  });
  container.setAttribute("role", "group");
  container.setAttribute("aria-label", wanted.label);
  // Names of areas lie beneath what was done there.
  map.createPane(NAMES).style.zIndex = "450";
  L.control.scale({ imperial: false, maxWidth: 160 }).addTo(map);
  const ground = L.layerGroup().addTo(map);
  const spots = L.layerGroup().addTo(map);
  const own = L.layerGroup().addTo(map);
  let held: readonly Spot[] = [];
  let chosen: ReadonlySet<string> = new Set();
  let bounds = L.latLngBounds([]);
  let stands: Own | null = null;

  const drawSpots = (): void => {
    spots.clearLayers();
    // The chosen come last, so that they lie on top.
    for (const spot of [...held].sort((first, second) => Number(chosen.has(first.id)) - Number(chosen.has(second.id)))) {
      addSpot(spots, spot, chosen.has(spot.id), wanted.onSpot);
    }
  };

  const drawing: Drawing = {
    setGround(every) {
      ground.clearLayers();
      bounds = L.latLngBounds([]);
      const layers = [...every].sort((first, second) => DEPTH[first.look] - DEPTH[second.look]).map((one) => addGround(ground, one));
      every.forEach((one) => {
        if (one.look === "permitted" || one.look === "closed" || one.look === "conditional") extend(bounds, one);
      });
      if (!bounds.isValid()) layers.forEach((layer) => bounds.extend(layer.getBounds()));
    },
    setSpots(every) {
      held = every;
      drawSpots();
    },
    choose(ids, move = false) {
      chosen = ids;
      drawSpots();
      const places = held.filter((spot) => ids.has(spot.id)).map((spot) => L.latLng(spot.lat, spot.lon));
      if (move && places.length > 0) {
        map.fitBounds(L.latLngBounds(places).pad(0.4), { maxZoom: CLOSE_ENOUGH, animate: !reducedMotion() });
      }
    },
    setOwn(position) {
      own.clearLayers();
      stands = position;
      if (position !== null) addOwn(own, position);
    },
    showOwn() {
      if (stands === null) return;
      // So much around the circle that an edge near by is seen as well.
      const side = Math.max(6 * (stands.radius ?? 0), NEAR);
      map.fitBounds(L.latLng(stands.lat, stands.lon).toBounds(side), { maxZoom: CLOSE_ENOUGH, animate: false });
    },
    showAll() {
      const all = L.latLngBounds([]).extend(bounds.isValid() ? bounds : L.latLngBounds([]));
      held.forEach((spot) => all.extend([spot.lat, spot.lon]));
      if (all.isValid()) map.fitBounds(all.pad(EDGE), { animate: false });
      else map.setView([0, 0], 2);
    },
    resized: () => map.invalidateSize({ animate: false }),
    remove: () => map.remove(),
  };
  drawing.setGround(wanted.ground);
  held = wanted.spots;
  drawing.setOwn(wanted.own ?? null);
  drawing.showAll();
  addHatching(map);
  drawSpots();
  const nameAreas = (): void => {
    container.classList.toggle("map-named", map.getZoom() >= NAMES_FROM);
  };
  map.on("zoomend", nameAreas);
  nameAreas();
  const watcher = new ResizeObserver(() => drawing.resized());
  watcher.observe(container);
  map.on("unload", () => watcher.disconnect());
  return drawing;
}

function reducedMotion(): boolean {
  return matchMedia("(prefers-reduced-motion: reduce)").matches;
}

function extend(bounds: L.LatLngBounds, one: Ground): void {
  bounds.extend(L.geoJSON(one.geometry).getBounds());
}

const FILL: Readonly<Partial<Record<Look, string>>> = { closed: "url(#map-closed)", conditional: "url(#map-conditional)" };
const NAMED: ReadonlySet<Look> = new Set<Look>(["permitted", "closed", "conditional", "feature"]);

function addGround(group: L.LayerGroup, one: Ground): L.GeoJSON {
  const fillColor = FILL[one.look];
  const layer = L.geoJSON(
    one.geometry,
    {
      interactive: false,
      style: { className: `map-${one.look}`, fillOpacity: 1, ...(fillColor === undefined ? {} : { fillColor }) },
      pointToLayer: (_feature, at) =>
        L.marker(at, { icon: L.divIcon({ className: "map-feature-point", iconSize: [16, 16] }), interactive: false, keyboard: false }),
    },
  );
  if (NAMED.has(one.look)) {
    layer.bindTooltip(one.name, { permanent: true, pane: NAMES, direction: "center", className: `map-name map-name-${one.look}`, interactive: false, opacity: 1 });
  }
  return layer.addTo(group);
}

function addSpot(group: L.LayerGroup, spot: Spot, isChosen: boolean, onSpot?: (id: string) => void): void {
  const at = L.latLng(spot.lat, spot.lon);
  const mark = isChosen ? "map-chosen" : "map-plain";
  if (spot.radius !== null && spot.radius > 0) {
    L.circle(at, { radius: spot.radius, className: `map-doubt ${mark}`, interactive: false }).addTo(group);
  }
  const size = isChosen ? 20 : 14;
  const marker = L.marker(at, {
    icon: L.divIcon({ className: `map-spot map-${spot.shape} ${mark}`, iconSize: [size, size] }),
    keyboard: false,
    interactive: onSpot !== undefined,
    alt: spot.words,
    zIndexOffset: isChosen ? 1000 : 0,
  });
  marker.bindTooltip(spot.words, { direction: "top", offset: [0, -8], className: "map-words" });
  if (onSpot !== undefined) marker.on("click", () => onSpot(spot.id));
  marker.addTo(group);
}

function addOwn(group: L.LayerGroup, own: Own): void {
  const at = L.latLng(own.lat, own.lon);
  if (own.radius !== null) L.circle(at, { radius: own.radius, className: "map-own-doubt", interactive: false }).addTo(group);
  L.marker(at, {
    icon: L.divIcon({ className: "map-own", iconSize: [36, 36] }),
    keyboard: false,
    interactive: false,
    zIndexOffset: 2000,
  }).addTo(group);
}

const SVG = "http://www.w3.org/2000/svg";

/** Put the hatchings into the drawing: closed areas are crossed, those closed at times striped, so that no colour tells alone. */
function addHatching(map: L.Map): void {
  const drawn = map.getPane("overlayPane")?.querySelector("svg");
  if (!drawn) return;
  const defs = document.createElementNS(SVG, "defs");
  defs.append(
    pattern("map-closed", "M0 0 12 12M12 0 0 12", "map-hatch-closed"),
    pattern("map-conditional", "M-3 9 9 -3M3 15 15 3", "map-hatch-conditional"),
  );
  drawn.prepend(defs);
}

function pattern(id: string, path: string, className: string): SVGElement {
  const made = document.createElementNS(SVG, "pattern");
  for (const [name, value] of Object.entries({ id, width: "12", height: "12", patternUnits: "userSpaceOnUse" })) made.setAttribute(name, value);
  const ground = document.createElementNS(SVG, "rect");
  ground.setAttribute("width", "12");
  ground.setAttribute("height", "12");
  ground.setAttribute("class", `${className}-ground`);
  const strokes = document.createElementNS(SVG, "path");
  strokes.setAttribute("d", path);
  strokes.setAttribute("class", className);
  made.append(ground, strokes);
  return made;
}
