import plainWasmUrl from "@tensorflow/tfjs-backend-wasm/dist/tfjs-backend-wasm.wasm?url";
import simdWasmUrl from "@tensorflow/tfjs-backend-wasm/dist/tfjs-backend-wasm-simd.wasm?url";
import threadedWasmUrl from "@tensorflow/tfjs-backend-wasm/dist/tfjs-backend-wasm-threaded-simd.wasm?url";
import { env, ready, setBackend } from "@tensorflow/tfjs-core";

export type BackendName = "webgpu" | "webgl" | "wasm";

/** Where the three wasm files are, when they are not the ones of this build: a folder or one address per file. */
export type WasmPaths = string | Record<string, string>;

let wasmIsSet = false;

/** Makes a backend the current one. Returns false where this browser does not have it. */
export async function switchBackend(name: BackendName, wasmPaths?: WasmPaths): Promise<boolean> {
  try {
    if (name === "wasm") await setUpWasm(wasmPaths);
    else if (name === "webgl") await import("@tensorflow/tfjs-backend-webgl");
    else await import("@tensorflow/tfjs-backend-webgpu");
    if (!(await setBackend(name))) return false;
    await ready();
    return true;
  } catch {
    // tfjs throws as well as returning false, depending on what is missing.
    return false;
  }
}

async function setUpWasm(wasmPaths?: WasmPaths): Promise<void> {
  const wasm = await import("@tensorflow/tfjs-backend-wasm");
  if (wasmIsSet) return;
  wasmIsSet = true;
  // One thread: a minified build on a cross-origin-isolated page hangs with more, and more were no faster.
  env().set("WASM_HAS_MULTITHREAD_SUPPORT", false);
  wasm.setWasmPaths(
    wasmPaths ?? {
      "tfjs-backend-wasm.wasm": plainWasmUrl,
      "tfjs-backend-wasm-simd.wasm": simdWasmUrl,
      "tfjs-backend-wasm-threaded-simd.wasm": threadedWasmUrl,
    },
  );
}

const SOFTWARE = /swiftshader|llvmpipe|softpipe|basic render|software/i;

/** Graphics backends that run on real graphics hardware here; software ones are slower than wasm by ten times. */
export async function hardwareBackends(): Promise<BackendName[]> {
  const found: BackendName[] = [];
  if (await hasGraphicsAdapter()) found.push("webgpu");
  if (hasGraphicsContext()) found.push("webgl");
  return found;
}

interface AdapterInfo {
  isFallbackAdapter?: boolean;
  vendor?: string;
  architecture?: string;
  description?: string;
}

interface Graphics {
  requestAdapter(): Promise<{ isFallbackAdapter?: boolean; info?: AdapterInfo } | null>;
}

async function hasGraphicsAdapter(): Promise<boolean> {
  const gpu = (globalThis.navigator as (Navigator & { gpu?: Graphics }) | undefined)?.gpu;
  const adapter = await gpu?.requestAdapter().catch(() => null);
  if (!adapter || adapter.isFallbackAdapter || adapter.info?.isFallbackAdapter) return false;
  const { vendor = "", architecture = "", description = "" } = adapter.info ?? {};
  return !SOFTWARE.test(`${vendor} ${architecture} ${description}`);
}

function hasGraphicsContext(): boolean {
  if (typeof OffscreenCanvas === "undefined") return false;
  const gl = new OffscreenCanvas(1, 1).getContext("webgl2");
  if (!gl) return false;
  const names = gl.getExtension("WEBGL_debug_renderer_info");
  const renderer = String(gl.getParameter(names ? names.UNMASKED_RENDERER_WEBGL : gl.RENDERER));
  gl.getExtension("WEBGL_lose_context")?.loseContext();
  return !SOFTWARE.test(renderer);
}
