import type { Picture } from "./picture.ts";
import type { ImagePoint } from "./types.ts";

/** A straight edge: one side lighter than the other. */
export interface Edge {
  from: ImagePoint;
  to: ImagePoint;
  /** Direction of the gradient, radians. */
  gradient: number;
  strength: number;
}

/** Pixels join an edge while their gradient is within this of its own. */
const TOLERANCE = (22.5 * Math.PI) / 180;
const FEWEST_PIXELS = 8;

/**
 * Straight edges of a picture by growing regions of like gradient (after the first stage of von Gioi and others,
 * IEEE PAMI 2010;32:722; without its false-alarm control, for the row of poles is its own check).
 * @param picture grey only: see `opponents` for colour.
 */
export function straightEdges(picture: Picture, shortestPx: number): Edge[] {
  const { width, height } = picture;
  const { magnitude, direction } = gradients(picture);
  const threshold = Math.max(8, quantile(magnitude, 0.8));
  const order = strongestFirst(magnitude, threshold);
  const taken = new Uint8Array(width * height);
  const edges: Edge[] = [];
  const region = new Int32Array(width * height);
  for (const seed of order) {
    if (taken[seed]) continue;
    let size = 1;
    region[0] = seed;
    taken[seed] = 1;
    let [sumX, sumY] = [Math.cos(direction[seed]!), Math.sin(direction[seed]!)];
    let mean = direction[seed]!;
    for (let k = 0; k < size; k++) {
      const at = region[k]!;
      const [x, y] = [at % width, (at / width) | 0];
      for (let ny = Math.max(0, y - 1); ny <= Math.min(height - 1, y + 1); ny++)
        for (let nx = Math.max(0, x - 1); nx <= Math.min(width - 1, x + 1); nx++) {
          const next = ny * width + nx;
          if (taken[next] || magnitude[next]! < threshold) continue;
          if (turnBetween(direction[next]!, mean) > TOLERANCE) continue;
          taken[next] = 1;
          region[size++] = next;
          sumX += Math.cos(direction[next]!);
          sumY += Math.sin(direction[next]!);
          mean = Math.atan2(sumY, sumX);
        }
    }
    if (size < FEWEST_PIXELS) continue;
    const edge = lineThrough(region.subarray(0, size), magnitude, width, mean);
    if (Math.hypot(edge.to.x - edge.from.x, edge.to.y - edge.from.y) >= shortestPx && edge.slim)
      edges.push(edge);
  }
  return edges;
}

/** Smallest angle between two directions, 0 to π. */
export function turnBetween(a: number, b: number): number {
  const d = Math.abs(a - b) % (2 * Math.PI);
  return d > Math.PI ? 2 * Math.PI - d : d;
}

/**
 * A colour picture as three grey ones: light against dark, red against green, yellow against blue. A red pole on
 * grass is as light as the grass but not as green; looked at channel by channel its edges point both ways at once.
 */
export function opponents(picture: Picture): Picture[] {
  if (picture.channels === 1) return [picture];
  const { data, width, height } = picture;
  const plane = (of: (r: number, g: number, b: number) => number): Picture => {
    const values = new Uint8Array(width * height);
    for (let k = 0; k < values.length; k++) values[k] = of(data[3 * k]!, data[3 * k + 1]!, data[3 * k + 2]!);
    return { data: values, width, height, channels: 1 };
  };
  return [
    plane((r, g, b) => 0.299 * r + 0.587 * g + 0.114 * b),
    plane((r, g) => 127 + (r - g) / 2),
    plane((r, g, b) => 127 + (r + g) / 4 - b / 2),
  ];
}

function gradients(picture: Picture) {
  const { width, height } = picture;
  const data = softened(picture);
  const magnitude = new Float32Array(width * height);
  const direction = new Float32Array(width * height);
  for (let y = 2; y < height - 2; y++)
    for (let x = 2; x < width - 2; x++) {
      const at = (dx: number, dy: number) => data[(y + dy) * width + x + dx]!;
      const gx = (at(1, -1) + 2 * at(1, 0) + at(1, 1) - at(-1, -1) - 2 * at(-1, 0) - at(-1, 1)) / 8;
      const gy = (at(-1, 1) + 2 * at(0, 1) + at(1, 1) - at(-1, -1) - 2 * at(0, -1) - at(1, -1)) / 8;
      magnitude[y * width + x] = Math.hypot(gx, gy);
      direction[y * width + x] = Math.atan2(gy, gx);
    }
  return { magnitude, direction };
}

/** Binomial 3 × 3 filter: stair-steps of slanting edges would break them into pieces. */
function softened({ data, width, height }: Picture): Float32Array {
  const rows = new Float32Array(width * height);
  const soft = new Float32Array(width * height);
  for (let k = 1; k < width * height - 1; k++) rows[k] = (data[k - 1]! + 2 * data[k]! + data[k + 1]!) / 4;
  for (let k = width; k < width * (height - 1); k++)
    soft[k] = (rows[k - width]! + 2 * rows[k]! + rows[k + width]!) / 4;
  return soft;
}

function strongestFirst(magnitude: Float32Array, threshold: number): number[] {
  const bins: number[][] = Array.from({ length: 256 }, () => []);
  magnitude.forEach((m, at) => {
    if (m >= threshold) bins[Math.min(255, Math.floor(m))]!.push(at);
  });
  return bins.reverse().flat();
}

function quantile(values: Float32Array, share: number): number {
  const bins = new Uint32Array(256);
  for (const value of values) bins[Math.min(255, Math.floor(value))]!++;
  let left = share * values.length;
  for (let bin = 0; bin < 256; bin++) {
    left -= bins[bin]!;
    if (left <= 0) return bin;
  }
  return 255;
}

function lineThrough(
  region: Int32Array,
  magnitude: Float32Array,
  width: number,
  gradient: number,
): Edge & { slim: boolean } {
  let [w, sx, sy] = [0, 0, 0];
  for (const at of region) {
    const m = magnitude[at]!;
    w += m;
    sx += m * (at % width);
    sy += m * ((at / width) | 0);
  }
  const [cx, cy] = [sx / w, sy / w];
  let [xx, xy, yy] = [0, 0, 0];
  for (const at of region) {
    const m = magnitude[at]!;
    const [dx, dy] = [(at % width) - cx, ((at / width) | 0) - cy];
    xx += m * dx * dx;
    xy += m * dx * dy;
    yy += m * dy * dy;
  }
  const angle = 0.5 * Math.atan2(2 * xy, xx - yy);
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  let [low, high, aside] = [0, 0, 0];
  for (const at of region) {
    const [dx, dy] = [(at % width) - cx, ((at / width) | 0) - cy];
    const t = dx * c + dy * s;
    low = Math.min(low, t);
    high = Math.max(high, t);
    aside = Math.max(aside, Math.abs(dy * c - dx * s));
  }
  // The line's normal on the gradient's side is better known than the mean of the pixels' own directions.
  const normal =
    turnBetween(angle + Math.PI / 2, gradient) < Math.PI / 2 ? angle + Math.PI / 2 : angle - Math.PI / 2;
  return {
    from: { x: cx + low * c, y: cy + low * s },
    to: { x: cx + high * c, y: cy + high * s },
    gradient: normal,
    strength: w / region.length,
    slim: high - low > 3 * aside,
  };
}
