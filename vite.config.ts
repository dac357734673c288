import { fileURLToPath } from "node:url";
import react from "@vitejs/plugin-react";
import type { Plugin } from "vite";
import { VitePWA } from "vite-plugin-pwa";
import { defineConfig } from "vitest/config";

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));

/** What a page may load and where it may send: nothing but our own files. Not in development, where Vite inlines. */
const CONTENT_POLICY = [
  "default-src 'self'",
  "script-src 'self' 'wasm-unsafe-eval'",
  "style-src 'self' 'unsafe-inline'",
  "img-src 'self' blob: data:",
  "media-src 'self' blob:",
  "connect-src 'self' blob: data:",
  "worker-src 'self' blob:",
  "frame-src 'self' blob:",
  "object-src 'none'",
  "base-uri 'none'",
  "form-action 'none'",
].join("; ");

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

/** Works without a network after the first visit. The extra decoder is 32 MB and is kept once it was needed. */
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
    icons: [{ src: "mark.svg", sizes: "any", type: "image/svg+xml", purpose: "any" }],
  },
  workbox: {
    globPatterns: ["**/*.{html,js,css,svg,wasm,bin,json,mp4}"],
    globIgnores: ["**/ffmpeg-core*", "headless.html"],
    maximumFileSizeToCacheInBytes: 8 * 1024 * 1024,
    runtimeCaching: [
      {
        urlPattern: ({ url }) => url.pathname.includes("ffmpeg-core"),
        handler: "CacheFirst",
        options: { cacheName: "extra-decoder" },
      },
    ],
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
        },
      },
    ],
  },
});
