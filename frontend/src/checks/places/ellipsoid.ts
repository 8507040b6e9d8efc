/**
 * The WGS84 ellipsoid: degrees to metres, geodesics, and places as points in space.
 *
 * Points in space (earth-centred, metres) know no antimeridian and no pole, which is why boundaries are searched there.
 * Constants: WGS84, a = 6 378 137 m, 1/f = 298.257 223 563.
 */
export type Vector = readonly [x: number, y: number, z: number];

const SEMI_MAJOR = 6_378_137;
const FLATTENING = 1 / 298.257223563;
const SEMI_MINOR = SEMI_MAJOR * (1 - FLATTENING);
const ECCENTRICITY_2 = FLATTENING * (2 - FLATTENING);
export const MEAN_RADIUS = 6_371_008.8;

export function radians(degrees: number): number {
  return (degrees * Math.PI) / 180;
}

export function degrees(turn: number): number {
  return (turn * 180) / Math.PI;
}

/** Bring a longitude to -180 ... 180; what already lies there is not touched. */
export function wrapped(lon: number): number {
  return lon >= -180 && lon <= 180 ? lon : ((((lon + 180) % 360) + 360) % 360) - 180;
}

/** Turn a longitude and latitude into metres, earth-centred. */
export function spacePoint(lon: number, lat: number): Vector {
  const [sine, cosine] = [Math.sin(radians(lat)), Math.cos(radians(lat))];
  const normal = SEMI_MAJOR / Math.sqrt(1 - ECCENTRICITY_2 * sine * sine);
  const turn = radians(lon);
  return [normal * cosine * Math.cos(turn), normal * cosine * Math.sin(turn), normal * (1 - ECCENTRICITY_2) * sine];
}

/** Give the metres in one degree of longitude and of latitude at a latitude. */
export function metresPerDegree(lat: number): readonly [east: number, north: number] {
  const sine = Math.sin(radians(lat));
  const root = 1 - ECCENTRICITY_2 * sine * sine;
  const normal = SEMI_MAJOR / Math.sqrt(root);
  return [radians(normal * Math.cos(radians(lat))), radians((normal * (1 - ECCENTRICITY_2)) / root)];
}

/** Turn a straight distance through the earth into one along it. */
export function arcLength(chord: number): number {
  const diameter = 2 * MEAN_RADIUS;
  return diameter * Math.asin(Math.min(chord / diameter, 1));
}

export function distanceInSpace(first: Vector, second: Vector): number {
  return Math.hypot(first[0] - second[0], first[1] - second[1], first[2] - second[2]);
}

/**
 * Lay a point in space on the plane that touches the ellipsoid at a place: metres east and north.
 *
 * It keeps its direction and is set as far out as the arc to it is long (mean radius: right to 1e-4 m at 5 km).
 */
export function onPlane(lon: number, lat: number, point: Vector): readonly [east: number, north: number] {
  const [turn, rise] = [radians(lon), radians(lat)];
  const place = spacePoint(lon, lat);
  const [x, y, z] = [point[0] - place[0], point[1] - place[1], point[2] - place[2]];
  const east = Math.cos(turn) * y - Math.sin(turn) * x;
  const north = Math.cos(rise) * z - Math.sin(rise) * (Math.cos(turn) * x + Math.sin(turn) * y);
  const flat = Math.hypot(east, north);
  const stretch = flat > 0 ? arcLength(Math.hypot(x, y, z)) / flat : 1;
  return [east * stretch, north * stretch];
}

const MOST_ROUNDS = 200;
const CLOSE_ENOUGH = 1e-13;

/**
 * Give the metres of the geodesic between two places in degrees, by Vincenty's inverse formula (Survey Review 23, 1975).
 *
 * Right to a millimetre. It finds no answer for places nearly opposite on the earth: those are told on a sphere, to
 * half a per cent, which is no distance that anybody walks.
 */
export function geodesic(lon1: number, lat1: number, lon2: number, lat2: number): number {
  const turn = radians((((lon2 - lon1 + 540) % 360) + 360) % 360 - 180);
  const [u1, u2] = [reduced(lat1), reduced(lat2)];
  let lambda = turn;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const arc = arcOf(u1, u2, lambda);
    if (arc.sigma === 0) return 0;
    const c = (FLATTENING / 16) * arc.cosSquareAlpha * (4 + FLATTENING * (4 - 3 * arc.cosSquareAlpha));
    const inner = arc.cosMiddle + c * arc.cosSigma * (2 * arc.cosMiddle ** 2 - 1);
    const next = turn + (1 - c) * FLATTENING * arc.sinAlpha * (arc.sigma + c * arc.sinSigma * inner);
    if (Math.abs(next - lambda) < CLOSE_ENOUGH) return lengthOf(arc);
    lambda = next;
  }
  return arcLength(distanceInSpace(spacePoint(lon1, lat1), spacePoint(lon2, lat2)));
}

interface Arc {
  readonly sigma: number;
  readonly sinSigma: number;
  readonly cosSigma: number;
  readonly sinAlpha: number;
  readonly cosSquareAlpha: number;
  readonly cosMiddle: number;
}

/** Give the sine and cosine of a latitude on the auxiliary sphere. */
function reduced(lat: number): readonly [sine: number, cosine: number] {
  const u = Math.atan((1 - FLATTENING) * Math.tan(radians(lat)));
  return [Math.sin(u), Math.cos(u)];
}

function arcOf([sin1, cos1]: readonly [number, number], [sin2, cos2]: readonly [number, number], lambda: number): Arc {
  const [sinLambda, cosLambda] = [Math.sin(lambda), Math.cos(lambda)];
  const sinSigma = Math.hypot(cos2 * sinLambda, cos1 * sin2 - sin1 * cos2 * cosLambda);
  const cosSigma = sin1 * sin2 + cos1 * cos2 * cosLambda;
  const sinAlpha = sinSigma === 0 ? 0 : (cos1 * cos2 * sinLambda) / sinSigma;
  const cosSquareAlpha = 1 - sinAlpha * sinAlpha;
  // On the equator there is no middle to speak of.
  const cosMiddle = cosSquareAlpha === 0 ? 0 : cosSigma - (2 * sin1 * sin2) / cosSquareAlpha;
  return { sigma: Math.atan2(sinSigma, cosSigma), sinSigma, cosSigma, sinAlpha, cosSquareAlpha, cosMiddle };
}

function lengthOf({ sigma, sinSigma, cosSigma, cosSquareAlpha, cosMiddle }: Arc): number {
  const u = (cosSquareAlpha * (SEMI_MAJOR ** 2 - SEMI_MINOR ** 2)) / SEMI_MINOR ** 2;
  const a = 1 + (u / 16384) * (4096 + u * (-768 + u * (320 - 175 * u)));
  const b = (u / 1024) * (256 + u * (-128 + u * (74 - 47 * u)));
  const twice = 2 * cosMiddle ** 2 - 1;
  const last = (b / 6) * cosMiddle * (4 * sinSigma ** 2 - 3) * (4 * cosMiddle ** 2 - 3);
  const correction = b * sinSigma * (cosMiddle + (b / 4) * (cosSigma * twice - last));
  return SEMI_MINOR * a * (sigma - correction);
}
