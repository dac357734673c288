import { fileURLToPath } from "node:url";
import react from "@vitejs/plugin-react";
import type { Plugin } from "vite";
import { VitePWA } from "vite-plugin-pwa";
import { defineConfig } from "vitest/config";
import { CONTENT_POLICY } from "./src/command/content-policy.mjs";

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));

const contentPolicy: Plugin = {
  name: "content-policy",
  apply: "build",
  transformIndexHtml: () => [
    {
      tag: "meta",
      attrs: { "http-equiv": "Content-Security-Policy", content: CONTENT_POLICY },
      injectTo: "head-prepend",
    },
  ],
};

/**
 * Works without a network after the first visit, and takes over the first visit itself. A newer version waits until
 * every window of the old one is closed. The extra decoder's 32 MB are kept by src/video/ffmpeg-program.ts.
 */
const offline = VitePWA({
  injectRegister: false,
  registerType: "prompt",
  manifest: {
    name: "Pawgap",
    short_name: "Pawgap",
    description: "Checks from a phone video whether ground poles fit a dog's stride.",
    display: "standalone",
    background_color: "#f6f1e6",
    theme_color: "#f6f1e6",
    icons: [
      { src: "mark.svg", sizes: "any", type: "image/svg+xml", purpose: "any" },
      ...[192, 512].map((side) => ({
        src: `icon-${side}.png`,
        sizes: `${side}x${side}`,
        type: "image/png",
        purpose: "any" as const,
      })),
    ],
  },
  workbox: {
    globPatterns: ["**/*.{html,js,css,svg,png,wasm,bin,json,mp4}"],
    globIgnores: ["**/ffmpeg-core*.wasm", "headless.html", "assets/headless*"],
    maximumFileSizeToCacheInBytes: 8 * 1024 * 1024,
    clientsClaim: true,
  },
});

export default defineConfig({
  root: here("src"),
  base: "./",
  cacheDir: here("node_modules/.vite"),
  publicDir: here("src/assets/public"),
  plugins: [react(), contentPolicy, offline],
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
          // What a screen shows next is waited for, as long as a busy machine needs to draw it.
          expect: { poll: { timeout: 30_000 } },
        },
      },
    ],
  },
});
