/** The parts of jsfeat 0.0.8 used here; the library itself carries no types. */
declare module "jsfeat" {
  interface PointLike {
    x: number;
    y: number;
    score: number;
  }

  class matrix_t {
    constructor(columns: number, rows: number, type: number);
    readonly cols: number;
    readonly rows: number;
    readonly data: Uint8Array | Float32Array;
  }

  class pyramid_t {
    constructor(levels: number);
    readonly levels: number;
    readonly data: matrix_t[];
    allocate(width: number, height: number, type: number): void;
    build(input: matrix_t, skipFirstLevel?: boolean): void;
  }

  /** Direct linear transform on `count` pairs; returns 1 when it found a model. */
  class homography2d {
    run(
      from: readonly { x: number; y: number }[],
      to: readonly { x: number; y: number }[],
      model: matrix_t,
      count: number,
    ): number;
  }

  const jsfeat: {
    U8_t: number;
    F32_t: number;
    C1_t: number;
    matrix_t: typeof matrix_t;
    pyramid_t: typeof pyramid_t;
    yape06: {
      laplacian_threshold: number;
      min_eigen_value_threshold: number;
      /** Fills `points` and returns how many it found. */
      detect(source: matrix_t, points: PointLike[], border?: number): number;
    };
    optical_flow_lk: {
      /** Positions are x, y pairs; `status` becomes 1 where a point was followed. */
      track(
        from: pyramid_t,
        to: pyramid_t,
        fromXY: Float32Array,
        toXY: Float32Array,
        count: number,
        windowPx: number,
        iterations: number,
        status: Uint8Array,
        epsilon?: number,
        smallestEigenvalue?: number,
      ): void;
    };
    imgproc: {
      /** Each pixel of `target` is taken from where `transform` takes it in `source`. */
      warp_perspective(source: matrix_t, target: matrix_t, transform: matrix_t, fill?: number): void;
    };
    motion_model: { homography2d: typeof homography2d };
  };
  export default jsfeat;
  export type { matrix_t, PointLike, pyramid_t };
}
