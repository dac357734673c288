import { fileURLToPath } from "node:url";
import react from "@vitejs/plugin-react";
import { defineConfig } from "vitest/config";

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));

export default defineConfig({
  root: here("src"),
  base: "./",
  cacheDir: here("node_modules/.vite"),
  plugins: [react()],
  resolve: {
    // pose-detection imports a package that has no module entry; we never use the model behind it.
    alias: { "@mediapipe/pose": here("src/paws/no-mediapipe-pose.ts") },
  },
  // Weights and clips are served as files, never inlined into code.
  assetsInclude: ["**/*.bin"],
  worker: { format: "es" },
  optimizeDeps: { exclude: ["@ffmpeg/ffmpeg"] },
  server: { fs: { allow: [here(".")] } },
  build: {
    outDir: here("dist"),
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0,
    // The app, and the page behind the commands that work without a screen.
    rolldownOptions: { input: [here("src/index.html"), here("src/headless.html")] },
  },
  test: {
    projects: [
      {
        test: {
          name: "core",
          root: here("."),
          environment: "node",
          include: ["tests/unit/**/*.test.ts", "tests/unit/**/*.test.tsx", "tests/outside/**/*.test.ts"],
          testTimeout: 60_000,
        },
      },
      {
        test: {
          name: "browser",
          root: here("."),
          environment: "node",
          include: ["tests/browser/**/*.test.ts"],
          fileParallelism: false,
          testTimeout: 300_000,
          hookTimeout: 300_000,
        },
      },
    ],
  },
});
