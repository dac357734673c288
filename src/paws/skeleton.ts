import { io, tensor3d } from "@tensorflow/tfjs-core";
import { type BackendName, switchBackend, type WasmPaths } from "./backend.ts";
import { fetchModel } from "./model-files.ts";
import type { Joint, JointName } from "./types.ts";

export interface SkeletonOptions {
  modelUrl?: string | undefined;
  wasmPaths?: WasmPaths | undefined;
  /** The backend that `loadPawNetwork` settled on; wasm unless told otherwise. */
  backend?: BackendName | undefined;
}

/** The network as a pose detector: one skeleton per crop, without the paw candidates. */
export interface SkeletonHost {
  readonly inputPx: number;
  /** rgb: interleaved bytes, inputPx × inputPx × 3. Joints in crop pixels; empty when nothing is seen. */
  pose(rgb: Uint8Array): Promise<Joint[]>;
  dispose(): void;
}

/** Our joints in the slots of the 17-point human pose; models/training/maps.py has the same order. */
const SLOTS: JointName[] = [
  "nose",
  "leftEye",
  "rightEye",
  "withers",
  "tailBase",
  "leftShoulder",
  "rightShoulder",
  "leftElbow",
  "rightElbow",
  "leftForePaw",
  "rightForePaw",
  "leftHip",
  "rightHip",
  "leftStifle",
  "rightStifle",
  "leftHindPaw",
  "rightHindPaw",
];

/**
 * Hosts our weights through pose-detection. The multi-pose kind is declared because it takes a crop as it is;
 * the single-pose kind re-crops around an upright person's torso. Tracking and smoothing are off: they would
 * lag behind a paw, and time belongs to the pipeline.
 */
export async function hostSkeleton(options: SkeletonOptions = {}): Promise<SkeletonHost> {
  const artifacts = await fetchModel("skeleton", options.modelUrl);
  const { inputPx } = artifacts.userDefinedMetadata as { inputPx: number };
  await switchBackend(options.backend ?? "wasm", options.wasmPaths);
  const poseDetection = await import("@tensorflow-models/pose-detection");
  const detector = await poseDetection.createDetector(poseDetection.SupportedModels.MoveNet, {
    modelType: poseDetection.movenet.modelType.MULTIPOSE_LIGHTNING,
    modelUrl: io.fromMemory(artifacts),
    enableTracking: false,
    enableSmoothing: false,
    multiPoseMaxDimension: inputPx,
    // 0 would be read as the default of 0.25.
    minPoseScore: 1e-6,
  });
  return {
    inputPx,
    async pose(rgb) {
      const picture = tensor3d(rgb, [inputPx, inputPx, 3], "int32");
      const [pose] = await detector.estimatePoses(picture);
      picture.dispose();
      return (pose?.keypoints ?? []).map((point, slot) => ({
        name: SLOTS[slot]!,
        x: point.x,
        y: point.y,
        score: point.score ?? 0,
      }));
    },
    dispose: () => detector.dispose(),
  };
}
